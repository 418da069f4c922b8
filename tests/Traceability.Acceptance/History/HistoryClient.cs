using System.Net;
using System.Text;
using System.Text.Json;
using Traceability.Acceptance.Robustness;
using Traceability.Contracts;

namespace Traceability.Acceptance.History;

/// <summary>Imports files of history over HTTP.</summary>
internal static class HistoryClient
{
    /// <summary>Sends facts as one file; gives the facts that were not stored, and the last counts.</summary>
    public static async Task<(HistoryCounts Counts, HistoryLine[] Refused)> ImportAsync(HttpClient admin, IEnumerable<Sent> facts) =>
        await ImportAsync(admin, string.Join('\n', facts.Select(f => f.Json.ReplaceLineEndings(" "))));

    /// <summary>Sends a file.</summary>
    public static async Task<(HistoryCounts Counts, HistoryLine[] Refused)> ImportAsync(HttpClient admin, string file)
    {
        using var content = new StringContent(file, Encoding.UTF8, "application/x-ndjson");
        using var answer = await admin.PostAsync("/api/history", content);
        var text = await answer.Content.ReadAsStringAsync();
        Assert.True(answer.StatusCode == HttpStatusCode.OK, text);
        var lines = text.Split('\n', StringSplitOptions.RemoveEmptyEntries).Select(l => JsonSerializer.Deserialize<HistoryLine>(l, WireJson.Options)!).ToArray();
        return (lines[^1].Counts!, [.. lines.Where(l => l.Counts is null)]);
    }

    /// <summary>Imports facts, and those that named something that came later once more, until all are stored; gives how many were not there before.</summary>
    public static async Task<long> ImportAllAsync(HttpClient admin, IReadOnlyList<Sent> facts)
    {
        var recorded = 0L;
        for (var refusedBefore = int.MaxValue; ;)
        {
            var (counts, refused) = await ImportAsync(admin, facts);
            Assert.True(counts.IsComplete);
            Assert.All(refused, r => Assert.Equal(404, r.Status));
            Assert.Equal((facts.Count, refused.Length), (counts.Recorded + counts.Repeats + counts.Refused, counts.Refused));
            recorded += counts.Recorded;
            if (refused.Length == 0)
            {
                return recorded;
            }

            Assert.True(refused.Length < refusedBefore, $"Nothing more is accepted of {refused.Length}, first {refused[0].Problem!.Detail}");
            refusedBefore = refused.Length;
        }
    }

    /// <summary>Posts facts one by one, as a terminal does that doesn't say what its clock shows; and those that named something that came later once more.</summary>
    public static async Task PostAllAsync(HttpClient client, IEnumerable<Sent> facts)
    {
        for (Sent[] pending = [.. facts]; pending.Length > 0;)
        {
            List<Sent> again = [];
            foreach (var fact in pending)
            {
                using var content = new StringContent(fact.Json, Encoding.UTF8, "application/json");
                using var answer = await client.PostAsync("/api/facts", content);
                if (answer.StatusCode == HttpStatusCode.NotFound)
                {
                    again.Add(fact);
                    continue;
                }

                Assert.True(answer.StatusCode is HttpStatusCode.Created or HttpStatusCode.OK, await answer.Content.ReadAsStringAsync());
            }

            Assert.True(again.Count < pending.Length, "Nothing more is accepted.");
            pending = [.. again];
        }
    }
}
