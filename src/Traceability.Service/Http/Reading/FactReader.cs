using System.Globalization;
using System.Text.Json;
using Traceability.Domain.Facts;
using Traceability.Domain.Primitives;

namespace Traceability.Service.Http.Reading;

/// <summary>A fact that was read whole.</summary>
/// <param name="Id">The id that its sender chose.</param>
/// <param name="Fact">The fact; its clock and sender are still to be set.</param>
/// <param name="ContentHash">SHA-256 of the canonical content: <see cref="FactContent"/>.</param>
public sealed record ReadFact(Guid Id, Fact Fact, byte[] ContentHash);

/// <summary>What came of reading: a fact, or every fault of it.</summary>
/// <param name="Fact">The fact; null if there are faults.</param>
/// <param name="Faults">The faults; empty if there is a fact.</param>
public readonly record struct FactReading(ReadFact? Fact, ImmutableArray<Fault> Faults);

/// <summary>Reads facts as they are sent. Never throws for what was sent: everything wrong becomes a fault with its JSON pointer.</summary>
public static class FactReader
{
    private static readonly JsonDocumentOptions Options = new() { MaxDepth = WireLimits.DepthMax };

    /// <summary>Reads one fact from UTF-8 text.</summary>
    public static FactReading Read(ReadOnlyMemory<byte> utf8)
    {
        // A byte order mark is not JSON, but some tools write one: RFC 8259, section 8.1, lets a reader pass over it.
        var text = utf8.Span is [0xEF, 0xBB, 0xBF, ..] ? utf8[3..] : utf8;
        JsonDocument document;
        try
        {
            document = JsonDocument.Parse(text, Options);
        }
        catch (JsonException e)
        {
            return new(null, [new(string.Empty, DescribeMalformed(text.Span, e))]);
        }

        using (document)
        {
            return Read(document.RootElement);
        }
    }

    /// <summary>Reads one fact from a JSON value; the result holds nothing of it.</summary>
    public static FactReading Read(JsonElement element)
    {
        var reading = JsonReading.Rent();
        try
        {
            return Read(reading, element);
        }
        finally
        {
            reading.Return();
        }
    }

    private static FactReading Read(JsonReading reading, JsonElement element)
    {
        var type = FactType.Find(reading, element);
        if (type is null && element.ValueKind != JsonValueKind.Object)
        {
            return new(null, reading.Faults);
        }

        // Without its type only the common members can be told from the unknown ones, so the others are left alone.
        using var o = type is null ? reading.Open(element, FactType.CommonShape, isOpenEnded: true) : reading.Open(element, type.Shape);
        var id = o.Id("factId");
        var common = FactType.ReadCommon(o);
        var fact = type?.Read(o, common);
        return reading.HasFaults || fact is null
            ? new(null, reading.Faults)
            : new(new ReadFact(id, fact, FactContent.Hash(element)), []);
    }

    private static string DescribeMalformed(ReadOnlySpan<byte> text, JsonException e)
    {
        if (text.IsEmpty)
        {
            return "The body is empty. Send one fact as JSON.";
        }

        var line = (e.LineNumber ?? 0) + 1;
        var column = (e.BytePositionInLine ?? 0) + 1;
        var what = e.Message.Contains("depth", StringComparison.OrdinalIgnoreCase)
            ? $"The body nests more than {WireLimits.DepthMax} levels"
            : "The body is not JSON (RFC 8259)";
        var nan = text.IndexOf("NaN"u8) >= 0 || text.IndexOf("Infinity"u8) >= 0 ? " NaN and Infinity are not JSON numbers." : string.Empty;
        return string.Create(CultureInfo.InvariantCulture, $"{what}: line {line}, byte {column}.{nan}");
    }
}
