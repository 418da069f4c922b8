using System.Text.Json;
using Traceability.Domain.Primitives;

namespace Traceability.Service.Http.Reading;

/// <summary>Reads the body of a question.</summary>
internal static class QuestionReading
{
    /// <summary>The question, or the refusal with every fault of it.</summary>
    public static (T? Question, Refusal? Refusal) Read<T>(ReadOnlyMemory<byte> body, Func<JsonReading, JsonElement, T> read)
        where T : class
    {
        JsonDocument document;
        try
        {
            document = JsonDocument.Parse(body, new() { MaxDepth = WireLimits.DepthMax });
        }
        catch (JsonException malformed)
        {
            return (null, Malformed([new(string.Empty, $"The body is not JSON: {malformed.Message}")]));
        }

        using (document)
        {
            var reading = new JsonReading();
            var question = read(reading, document.RootElement);
            return reading.HasFaults ? (null, Malformed(reading.Faults)) : (question, null);
        }
    }

    private static Refusal Malformed(ImmutableArray<Fault> faults) =>
        new("question-malformed", RefusalKind.Malformed, "The question can't be read. Every fault is listed with its place.", faults);
}
