using System.Text.Json;
using Traceability.Contracts;

namespace Traceability.Client.Http;

/// <summary>Reads an answer from 400 up.</summary>
internal static class ProblemReader
{
    /// <summary>The problem document; an answer that holds none, from something between, say, is put into one.</summary>
    public static async Task<Problem> ReadAsync(HttpResponseMessage response, CancellationToken cancellation)
    {
        var status = (int)response.StatusCode;
        var body = await response.Content.ReadAsByteArrayAsync(cancellation).ConfigureAwait(false);
        try
        {
            if (body.Length > 0 && JsonSerializer.Deserialize<Problem>(body, WireJson.Options) is { } problem)
            {
                return problem with { Status = status };
            }
        }
        catch (JsonException)
        {
            // Not the service's own answer: what is known is the status.
        }

        return new()
        {
            Type = "about:blank",
            Title = response.ReasonPhrase ?? "The request failed.",
            Status = status,
            Code = ProblemCodes.Unexpected,
            Detail = "The answer holds no problem document: something between the terminal and the service gave it.",
        };
    }
}
