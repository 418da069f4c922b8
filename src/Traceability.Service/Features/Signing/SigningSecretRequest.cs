using System.Text.Json;
using Traceability.Domain.Primitives;
using Traceability.Service.Http.Reading;
using Traceability.Service.Security;

namespace Traceability.Service.Features.Signing;

/// <summary>A secret that is to be set.</summary>
/// <param name="Secret">8 to 128 characters of any kind.</param>
internal sealed record SigningSecretRequest(string Secret)
{
    private static readonly Shape Form = new("secret");

    /// <summary>The request, or every fault of it. The secret is in no fault.</summary>
    public static (SigningSecretRequest? Request, ImmutableArray<Fault> Faults) Read(ReadOnlyMemory<byte> body)
    {
        JsonDocument document;
        try
        {
            document = JsonDocument.Parse(body, new() { MaxDepth = WireLimits.DepthMax });
        }
        catch (JsonException)
        {
            return (null, [new(string.Empty, "The body is not JSON. An object with the member secret is expected.")]);
        }

        using (document)
        {
            var reading = new JsonReading();
            using var o = reading.Open(document.RootElement, Form);
            var secret = o.Text("secret");
            if (!reading.HasFaults && secret.Length is < SigningSecrets.LengthMin or > SigningSecrets.LengthMax)
            {
                o.Fail("secret", $"A secret has {SigningSecrets.LengthMin} to {SigningSecrets.LengthMax} characters.");
            }

            return reading.HasFaults ? (null, reading.Faults) : (new(secret), []);
        }
    }
}
