using System.Globalization;
using System.Net.Http.Headers;
using System.Text;
using System.Text.Json;

namespace Traceability.Acceptance.Robustness;

/// <summary>What the service answered to one fact.</summary>
/// <param name="Status">The status, as of a single post.</param>
/// <param name="Body">The receipt or the problem.</param>
/// <param name="RetryAfter">When to come back, if the answer says it.</param>
internal sealed record FactReply(int Status, JsonElement Body, TimeSpan? RetryAfter = null)
{
    /// <summary>The problem's code; empty for a receipt.</summary>
    public string Code => Body.ValueKind == JsonValueKind.Object && Body.TryGetProperty("code", out var code) ? code.GetString()! : string.Empty;

    /// <summary>Whether it is recorded, now or before.</summary>
    public bool IsRecorded => Status is 200 or 201;

    /// <summary>Refused because something that it names has not arrived yet.</summary>
    public bool IsUnknown => Status == 404;
}

/// <summary>Posts facts as terminals do.</summary>
internal static class Terminal
{
    private static readonly TimeSpan Patience = TimeSpan.FromSeconds(100);

    /// <summary>Posts one fact by itself.</summary>
    public static async Task<FactReply> PostAsync(HttpClient client, Sent fact, CancellationToken cancellation = default)
    {
        using var request = Request("/api/facts", fact.Json, "application/json", fact.ClockError);
        using var answer = await client.SendAsync(request, cancellation);
        return new((int)answer.StatusCode, Parse(await answer.Content.ReadAsStringAsync(cancellation)), answer.Headers.RetryAfter?.Delta);
    }

    /// <summary>Posts facts of one terminal as a batch; the answers in order.</summary>
    public static async Task<IReadOnlyList<FactReply>> PostBatchAsync(HttpClient client, IReadOnlyList<Sent> facts, CancellationToken cancellation = default)
    {
        using var request = Request("/api/facts/batch", string.Join('\n', facts.Select(f => f.Json.ReplaceLineEndings(" "))), "application/x-ndjson", facts[0].ClockError);
        using var answer = await client.SendAsync(request, cancellation);
        var text = await answer.Content.ReadAsStringAsync(cancellation);
        if (!answer.IsSuccessStatusCode)
        {
            throw new InvalidOperationException($"The batch was refused: {(int)answer.StatusCode} {text}");
        }

        var replies = text.Split('\n', StringSplitOptions.RemoveEmptyEntries).Select(Parse).Select(line => new FactReply(
            line.GetProperty("status").GetInt32(),
            line.TryGetProperty("receipt", out var receipt) ? receipt : line.GetProperty("problem"))).ToArray();
        return replies.Length == facts.Count ? replies : throw new InvalidOperationException($"{facts.Count} lines were sent, {replies.Length} answered.");
    }

    /// <summary>Posts all, in this order, and those that were refused as unknown again, until all are recorded.</summary>
    /// <param name="client">Who posts.</param>
    /// <param name="facts">What; the same fact may be there several times.</param>
    /// <param name="batch">How many at a time; 1: each by itself.</param>
    /// <param name="connections">How many requests at the same time.</param>
    public static async Task PostAllAsync(HttpClient client, IReadOnlyList<Sent> facts, int batch, int connections = 1)
    {
        var pending = facts;
        while (pending.Count > 0)
        {
            var waiting = new System.Collections.Concurrent.ConcurrentBag<(Sent Fact, string Reason)>();
            await Parallel.ForEachAsync(Chunks(pending, batch), new ParallelOptions { MaxDegreeOfParallelism = connections }, async (chunk, stop) =>
            {
                var replies = batch == 1 ? [await PostAsync(client, chunk[0], stop)] : await PostBatchAsync(client, chunk, stop);
                for (var i = 0; i < chunk.Count; i++)
                {
                    if (replies[i].IsUnknown)
                    {
                        waiting.Add((chunk[i], $"{replies[i].Status} {replies[i].Body}"));
                    }
                    else if (!replies[i].IsRecorded)
                    {
                        throw new InvalidOperationException($"{chunk[i].Json} was refused: {replies[i].Status} {replies[i].Body}");
                    }
                }
            });
            var again = waiting.Select(f => f.Fact.Id).ToHashSet();
            List<Sent> next = [.. pending.Where(f => again.Contains(f.Id))];
            if (next.Count == pending.Count)
            {
                throw new InvalidOperationException($"Nothing of {next.Count} facts is accepted, first {next[0].Json}: {waiting.First(w => w.Fact.Id == next[0].Id).Reason}");
            }

            pending = next;
        }
    }

    /// <summary>A client with its own connections and this key.</summary>
    public static HttpClient Client(Uri address, string key)
    {
        var client = new HttpClient { BaseAddress = address, Timeout = Patience };
        client.DefaultRequestHeaders.Authorization = new AuthenticationHeaderValue("Bearer", key);
        return client;
    }

    private static IEnumerable<List<Sent>> Chunks(IReadOnlyList<Sent> facts, int size)
    {
        List<Sent> chunk = [];
        foreach (var fact in facts)
        {
            if (chunk.Count == size || (chunk.Count > 0 && chunk[0].ClockError != fact.ClockError))
            {
                yield return chunk;
                chunk = [];
            }

            chunk.Add(fact);
        }

        if (chunk.Count > 0)
        {
            yield return chunk;
        }
    }

    private static HttpRequestMessage Request(string path, string body, string mediaType, TimeSpan clockError)
    {
        var request = new HttpRequestMessage(HttpMethod.Post, path) { Content = new StringContent(body, Encoding.UTF8, mediaType) };
        var shown = TimeProvider.System.GetUtcNow() + clockError;
        request.Headers.Add("Sent-At", shown.ToString("yyyy-MM-dd'T'HH:mm:ss.fffzzz", CultureInfo.InvariantCulture));
        return request;
    }

    private static JsonElement Parse(string text)
    {
        using var document = JsonDocument.Parse(text);
        return document.RootElement.Clone();
    }
}
