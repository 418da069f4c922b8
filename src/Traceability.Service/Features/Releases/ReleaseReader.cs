using System.Text.Json;
using Traceability.Domain.Primitives;
using Traceability.Service.Http.Reading;

namespace Traceability.Service.Features.Releases;

/// <summary>A release that is asked for.</summary>
/// <param name="Id">The id that the sender gives it.</param>
/// <param name="Person">Who signs.</param>
/// <param name="Secret">The signer's secret.</param>
/// <param name="Meaning">What the signature means.</param>
/// <param name="Station">Where.</param>
internal sealed record AskedRelease(Guid Id, PersonCode Person, string Secret, string Meaning, StationCode? Station)
{
    // What tells a repeat from a conflict: what is asked for, and not the secret.
    public byte[] ContentHash(UnitKey unit)
    {
        using var content = JsonSerializer.SerializeToDocument(new
        {
            type = "unit-released",
            unit = new { item = unit.Item.Value, serial = unit.Serial.Value },
            person = Person.Value,
            meaning = Meaning,
            station = Station?.Value,
        });
        return FactContent.Hash(content.RootElement);
    }
}

/// <summary>Reads it.</summary>
internal static class ReleaseReader
{
    private static readonly Shape Form = new("factId", "person", "secret", "meaning", "station");

    /// <summary>The request, or every fault of it. The secret is in no fault.</summary>
    public static (AskedRelease? Asked, ImmutableArray<Fault> Faults) Read(ReadOnlyMemory<byte> body)
    {
        JsonDocument document;
        try
        {
            document = JsonDocument.Parse(body, new() { MaxDepth = WireLimits.DepthMax });
        }
        catch (JsonException)
        {
            return (null, [new(string.Empty, "The body is not JSON. An object is expected; /docs shows its form.")]);
        }

        using (document)
        {
            var reading = new JsonReading();
            using var o = reading.Open(document.RootElement, Form);
            var asked = new AskedRelease(o.Id("factId"), o.Code<PersonCode>("person"), o.Text("secret"), o.Text("meaning"), o.CodeOrNull<StationCode>("station"));
            return reading.HasFaults ? (null, reading.Faults) : (asked, []);
        }
    }
}
