using System.Text.Json;
using Traceability.Domain.Primitives;
using Traceability.Service.Http.Reading;

namespace Traceability.Service.Features.Access;

/// <summary>Reads the request for a key, with every fault of its form at once.</summary>
internal static class CreateKeyReader
{
    private static readonly Shape Form = new("name", "role", "station");

    /// <summary>The request, or every fault of it.</summary>
    public static (CreateKeyRequest? Request, ImmutableArray<Fault> Faults) Read(ReadOnlyMemory<byte> body)
    {
        JsonDocument document;
        try
        {
            document = JsonDocument.Parse(body, new() { MaxDepth = WireLimits.DepthMax });
        }
        catch (JsonException malformed)
        {
            return (null, [new(string.Empty, body.IsEmpty ? "The body is empty. A JSON object is expected; /docs shows its form." : $"The body is not JSON: {malformed.Message}")]);
        }

        using (document)
        {
            var reading = new JsonReading();
            using var o = reading.Open(document.RootElement, Form);
            if (document.RootElement.ValueKind != JsonValueKind.Object)
            {
                return (null, reading.Faults);
            }

            var request = new CreateKeyRequest(Required(o, "name"), Required(o, "role"), o.TextOrNull("station"));
            return reading.HasFaults ? (null, reading.Faults) : (request, []);
        }
    }

    // What the text says is for the validator.
    private static string Required(ObjectReading o, string name)
    {
        if (!o.Has(name))
        {
            o.Fail(name, "The member is missing.");
        }

        return o.TextOrNull(name) ?? string.Empty;
    }
}
