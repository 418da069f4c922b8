using System.Buffers;
using System.Globalization;
using System.Text.Encodings.Web;
using System.Text.Json;

namespace Traceability.Client.Outbox;

/// <summary>A fact as it goes into the outbox and over the wire: one line of JSON with an id.</summary>
/// <param name="Lane">What decides its order.</param>
/// <param name="Json">The bytes.</param>
internal sealed record FactText(FactLane Lane, byte[] Json)
{
    // Line breaks within texts are escaped by the writer, so a fact is always one line.
    private static readonly JsonWriterOptions Compact = new() { Encoder = JavaScriptEncoder.UnsafeRelaxedJsonEscaping, SkipValidation = false };

    /// <summary>Reads a fact and gives it an id if it has none.</summary>
    public static FactText Read(string json, int bytesMax) => Read(json, bytesMax, keepsId: true);

    /// <summary>Reads a fact and gives it a new id in any case.</summary>
    public static FactText ReadAnew(string json, int bytesMax) => Read(json, bytesMax, keepsId: false);

    private static FactText Read(string json, int bytesMax, bool keepsId)
    {
        ArgumentNullException.ThrowIfNull(json);
        JsonDocument document;
        try
        {
            document = JsonDocument.Parse(json);
        }
        catch (JsonException e)
        {
            throw new FormatException($"The fact is not JSON: {e.Message}", e);
        }

        using (document)
        {
            var lane = FactLane.Of(document.RootElement);
            var id = keepsId && lane.FactId is { } own ? own : FactIds.Next();
            var bytes = Write(document.RootElement, id);
            return bytes.Length <= bytesMax
                ? new(lane with { FactId = id }, bytes)
                : throw new FormatException(string.Create(CultureInfo.InvariantCulture, $"The fact has {bytes.Length} bytes; the service takes {bytesMax}."));
        }
    }

    // Numbers keep their digits: 1.50 is not 1.5.
    private static byte[] Write(JsonElement fact, Guid id)
    {
        var buffer = new ArrayBufferWriter<byte>(1024);
        using (var writer = new Utf8JsonWriter(buffer, Compact))
        {
            writer.WriteStartObject();
            writer.WriteString("factId"u8, id);
            foreach (var member in fact.EnumerateObject().Where(m => !m.NameEquals("factId"u8)))
            {
                try
                {
                    member.WriteTo(writer);
                }
                catch (InvalidOperationException e)
                {
                    throw new FormatException($"The member {member.Name} holds text that is no Unicode.", e);
                }
            }

            writer.WriteEndObject();
        }

        return buffer.WrittenSpan.ToArray();
    }
}
