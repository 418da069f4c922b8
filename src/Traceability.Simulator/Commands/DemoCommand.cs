using System.Globalization;
using Traceability.Simulator.Plant;
using Traceability.Simulator.Posting;

namespace Traceability.Simulator.Commands;

/// <summary>Builds the demo in a running service.</summary>
internal static class DemoCommand
{
    private const ulong SeedDefault = 20;
    private const int FinalsDefault = 300;

    public static async Task<int> RunAsync(IReadOnlyList<string> words, TimeProvider time, TextWriter output)
    {
        var arguments = Arguments.Read(words, "url", "key", "seed", "finals", "now", "batch", "connections");
        var (url, key) = (arguments.Url("url"), arguments.Required("key"));
        var plant = DemoPlant.Build(
            arguments.Seed("seed", SeedDefault), arguments.Int("finals", FinalsDefault, DemoPlant.FinalsMin, 5_000), arguments.Time("now") ?? time.GetUtcNow());
        var options = new PostOptions
        {
            Batch = arguments.Int("batch", 200, 1, 1_000), Connections = arguments.Int("connections", 8, 1, 256),
        };
        using var http = new HttpClient { BaseAddress = url, Timeout = TimeSpan.FromMinutes(2) };
        var client = new ServiceClient(http, time);
        var keys = await KeysAsync(client, key, plant).ConfigureAwait(false);
        var began = time.GetTimestamp();
        var report = await new HistoryPoster(client, sender => keys[sender]).PostAsync(plant.Facts, options).ConfigureAwait(false);
        await TellAsync(output, url, plant, report, time.GetElapsedTime(began)).ConfigureAwait(false);
        return report.Refused.Count == 0 ? 0 : 1;
    }

    /// <summary>Makes a key for each sender; the key's name says whose it is.</summary>
    internal static async Task<IReadOnlyDictionary<string, string>> KeysAsync(ServiceClient client, string adminKey, PlantRun plant)
    {
        var keys = new Dictionary<string, string>(StringComparer.Ordinal);
        foreach (var sender in plant.Facts.Select(f => f.Sender).Distinct(StringComparer.Ordinal).Order(StringComparer.Ordinal))
        {
            var role = sender is Senders.Engineer or Senders.Quality ? sender : "station";
            keys[sender] = await client.CreateKeyAsync(adminKey, $"demo-{sender}", role, role == "station" ? sender : null).ConfigureAwait(false);
        }

        return keys;
    }

    private static async Task TellAsync(TextWriter output, Uri url, PlantRun plant, PostReport report, TimeSpan took)
    {
        var (truth, culture) = (plant.Truth, CultureInfo.InvariantCulture);
        var units = plant.Facts.Count(f => f.Type == "unit-opened");
        await output.WriteLineAsync(string.Create(
            culture,
            $"Built the demo of seed {plant.Seed}, ending {plant.Now:yyyy-MM-dd HH:mm}Z: {units} units, {report.Accepted} facts in {report.Requests} requests, {took.TotalSeconds:0.0} s.")).ConfigureAwait(false);
        foreach (var (fact, answer) in report.Refused.Take(10))
        {
            await output.WriteLineAsync($"Refused: {fact.Type} {fact.Unit} {answer.Status} {answer.Code}: {answer.Detail}").ConfigureAwait(false);
        }

        if (report.Refused.Count > 0)
        {
            await output.WriteLineAsync(string.Create(culture, $"{report.Refused.Count} facts were refused.")).ConfigureAwait(false);
        }

        var leaker = truth.Troubles.First(t => t.Kind == TroubleKind.LeakedForBadLot).Unit;
        await output.WriteLineAsync("Worth asking:").ConfigureAwait(false);
        foreach (var path in new[]
        {
            $"api/lots/{truth.BadItem}/{truth.BadLot}/scope",
            "api/yield/steps?item=FP-2",
            "api/intervals/open",
            $"api/units/{leaker}/build-record",
        })
        {
            await output.WriteLineAsync($"  {url}{path}").ConfigureAwait(false);
        }
    }
}
