using System.Globalization;
using Traceability.Simulator.Plant;
using Traceability.Simulator.Posting;

namespace Traceability.Simulator.Commands;

/// <summary>Builds the demo in a running service.</summary>
internal static class DemoCommand
{
    private const ulong SeedDefault = 20;
    private const int FinalsDefault = 300;
    private const int NamesMax = 50;

    public static async Task<int> RunAsync(IReadOnlyList<string> words, TimeProvider time, TextWriter output)
    {
        var arguments = Arguments.Read(words, "url", "key", "seed", "finals", "now", "batch", "connections");
        var (url, key) = (arguments.Url("url"), arguments.Key());
        var options = new PostOptions
        {
            Batch = arguments.Int("batch", 200, 1, 1_000), Connections = arguments.Int("connections", 8, 1, 256),
        };
        using var http = new HttpClient { BaseAddress = url, Timeout = TimeSpan.FromMinutes(2) };
        var client = new ServiceClient(http, time);
        var scope = await ScopeAsync(arguments, client, key, time, output).ConfigureAwait(false);
        var plant = DemoPlant.Build(scope.Seed, scope.Finals, scope.Now);
        var keys = await KeysAsync(client, key, plant).ConfigureAwait(false);
        try
        {
            var began = time.GetTimestamp();
            var deeds = new Deeds(client, key);
            await deeds.StoreFilesAsync(plant).ConfigureAwait(false);
            var report = await new HistoryPoster(client, sender => keys[sender].Secret).PostAsync(plant.Facts, options).ConfigureAwait(false);
            var signed = await deeds.SignAsync(plant).ConfigureAwait(false);
            await TellAsync(output, url, plant, report, time.GetElapsedTime(began)).ConfigureAwait(false);
            foreach (var (unit, answer) in signed)
            {
                await output.WriteLineAsync(
                    answer.IsAccepted ? $"Released by the signature of {Deeds.Signer}: {unit}" : $"Not released: {unit}: {answer.Code}: {answer.Detail}").ConfigureAwait(false);
            }

            string[] released = [.. signed.Where(s => s.Answer.IsAccepted).Select(s => s.Unit)];
            if (await deeds.ShipAsync(plant, released).ConfigureAwait(false) is { } shipped)
            {
                await output.WriteLineAsync(
                    shipped.IsAccepted ? $"Left together on order {Deeds.Order}: {string.Join(", ", released)}" : $"Not shipped together: {shipped.Code}: {shipped.Detail}").ConfigureAwait(false);
            }

            return report.Refused.Count == 0 ? 0 : 1;
        }
        finally
        {
            // Nobody knows these keys once this ends.
            foreach (var made in keys.Values)
            {
                await client.RevokeKeyAsync(key, made.Id).ConfigureAwait(false);
            }
        }
    }

    /// <summary>Makes a key for each sender; the key's name says whose it is.</summary>
    internal static async Task<IReadOnlyDictionary<string, AccessKey>> KeysAsync(ServiceClient client, string adminKey, PlantRun plant)
    {
        var keys = new Dictionary<string, AccessKey>(StringComparer.Ordinal);
        foreach (var sender in plant.Facts.Select(f => f.Sender).Distinct(StringComparer.Ordinal).Order(StringComparer.Ordinal))
        {
            var role = sender is Senders.Engineer or Senders.Quality ? sender : "station";
            AccessKey? made = null;
            for (var number = 1; made is null && number <= NamesMax; number++)
            {
                var name = number == 1 ? $"demo-{sender}" : string.Create(CultureInfo.InvariantCulture, $"demo-{sender}-{number}");
                made = await client.CreateKeyAsync(adminKey, name, role, role == "station" ? sender : null).ConfigureAwait(false);
            }

            keys[sender] = made ?? throw new InvalidOperationException($"Every name for a key of {sender} is taken.");
        }

        return keys;
    }

    // A demo that was interrupted goes on as it was begun: its facts carry their ids, so none counts twice.
    private static async Task<DemoScope> ScopeAsync(Arguments arguments, ServiceClient client, string key, TimeProvider time, TextWriter output)
    {
        var begun = await client.GetAsync($"api/facts/{DemoScope.FactId}", key).ConfigureAwait(false) is { } fact ? DemoScope.Find(fact) : null;
        var asked = new DemoScope(
            arguments.Seed("seed", begun?.Seed ?? SeedDefault),
            arguments.Int("finals", begun?.Finals ?? FinalsDefault, DemoPlant.FinalsMin, 5_000),
            arguments.Time("now") ?? begun?.Now ?? time.GetUtcNow());
        if (begun is null)
        {
            return asked;
        }

        if (begun != asked)
        {
            throw new InvalidOperationException($"A service holds one demo, and this one has another: {begun.Describe()}");
        }

        await output.WriteLineAsync($"Taking it up again: {begun.Describe()}").ConfigureAwait(false);
        return begun;
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
            $"api/tools/{truth.BadTool}/uses?suspectOnly=true",
            $"api/lots/{truth.BadContainerItem}/{truth.BadContainerLot}/containers/{truth.BadContainer}/scope",
            "api/nonconformances?openOnly=true",
            "api/lots/SH-3/S2401/balance",
            $"api/units/{leaker}/build-record",
        })
        {
            await output.WriteLineAsync($"  {url}{path}").ConfigureAwait(false);
        }
    }
}
