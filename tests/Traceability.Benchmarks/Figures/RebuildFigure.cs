using System.Diagnostics;
using System.Net.Http.Headers;
using System.Text.Json;
using Traceability.Benchmarks.Load;

namespace Traceability.Benchmarks.Figures;

/// <summary>A rebuild of everything derived, while facts are recorded, beside one INSERT … SELECT of the same rows into empty copies with the same indexes.</summary>
internal static class RebuildFigure
{
    private const int PerSecond = 200;

    private static readonly string[] Tables =
        ["unit", "step_result", "unit_result", "finding", "open_interval", "material_usage", "trace_gap", "installation", "cure_window", "tool_usage", "nonconformance", "measurement", "interval_result", "work_gap", "dependency", "step_yield_day", "unit_yield_day"];

    public static async Task RunAsync(Bench bench)
    {
        var units = bench.IsQuick ? 8_000 : 90_000;
        foreach (var chunk in Enumerable.Range(0, units).Chunk(5_000))
        {
            await ImportFigure.ImportAsync(bench, chunk.SelectMany(_ => Facts(bench.Facts.Unit())));
        }

        await bench.ExecuteAsync(bench.ServiceDatabase, "vacuum analyze");
        var facts = (long)(await bench.ScalarAsync(bench.ServiceDatabase, "select count(*) from events.mt_events where stream_id like 'unit/%'"))!;
        var limit = await InsertAsync(bench);
        using var client = new HttpClient { BaseAddress = new($"http://{bench.Service.At}"), Timeout = TimeSpan.FromHours(1) };
        client.DefaultRequestHeaders.Authorization = new AuthenticationHeaderValue("Bearer", bench.Key);
        await EndAsync(client, await StartAsync(client));

        var posts = await bench.PrepareAsync(4, PerSecond * (bench.IsQuick ? 30 : 240));
        var requests = posts.Select(c => c.Select(f => Requests.Post("/api/facts", bench.Key, f.Id, f.Json)).ToArray()).ToArray();
        var load = LoadRun.RunAsync(bench.Service.At, requests, perSecond: PerSecond);
        var (server, database) = (bench.Service.ProcessorTime(), bench.DatabaseProcessorTime());
        var started = Stopwatch.GetTimestamp();
        var seconds = await EndAsync(client, await StartAsync(client));
        var total = Stopwatch.GetElapsedTime(started).TotalSeconds;
        var (serverUsed, databaseUsed) = (bench.Service.ProcessorTime() - server, bench.DatabaseProcessorTime() - database);
        var isServing = !load.IsCompleted;
        var run = await load;
        bench.Report.AtLeast($"rebuild of everything derived from {facts:#,##0} facts while {PerSecond} facts/s are recorded: facts, INSERT … SELECT of the same rows", facts / seconds, facts / limit, "1/s", 0.5);
        bench.Report.Say(string.Create(
            CultureInfo.InvariantCulture,
            $"rebuild: {total:0.0} s, load went on to its end: {isServing}, {run.PerSecond:0} facts/s; processor time a fact, load included: service {serverUsed.TotalMicroseconds / facts:0} µs, database {databaseUsed.TotalMicroseconds / facts:0} µs"));
    }

    private static IEnumerable<MadeFact> Facts((MadeFact Opened, MadeFact[] Steps) unit) => unit.Steps.Prepend(unit.Opened);

    private static async Task<double> InsertAsync(Bench bench)
    {
        await bench.ExecuteAsync(bench.ServiceDatabase, "create schema copy; create schema source");
        foreach (var table in Tables)
        {
            await bench.ExecuteAsync(bench.ServiceDatabase, $"create table source.{table} as select * from traceability.{table}; create table copy.{table} (like traceability.{table} including defaults including indexes)");
        }

        await bench.ExecuteAsync(bench.ServiceDatabase, "vacuum analyze");
        var started = Stopwatch.GetTimestamp();
        await bench.ExecuteAsync(bench.ServiceDatabase, $"begin; {string.Join("; ", Tables.Select(t => $"insert into copy.{t} select * from source.{t}"))}; commit");
        var seconds = Stopwatch.GetElapsedTime(started).TotalSeconds;
        await bench.ExecuteAsync(bench.ServiceDatabase, "drop schema copy cascade; drop schema source cascade");
        return seconds;
    }

    private static async Task<long> StartAsync(HttpClient client)
    {
        using var answer = await client.PostAsync("/api/rebuilds", null);
        using var body = JsonDocument.Parse(await answer.Content.ReadAsStringAsync());
        return body.RootElement.GetProperty("id").GetInt64();
    }

    // The time that the rebuild itself says: from its start until the rows are in place and the old ones dropped.
    private static async Task<double> EndAsync(HttpClient client, long id)
    {
        while (true)
        {
            using var body = JsonDocument.Parse(await client.GetStringAsync("/api/rebuilds"));
            var rebuild = body.RootElement.GetProperty("rebuilds").EnumerateArray().First(r => r.GetProperty("id").GetInt64() == id);
            switch (rebuild.GetProperty("state").GetString())
            {
                case "running":
                    await Task.Delay(20);
                    continue;
                case "done":
                    return (rebuild.GetProperty("endedAt").GetDateTimeOffset() - rebuild.GetProperty("startedAt").GetDateTimeOffset()).TotalSeconds;
                default:
                    throw new InvalidOperationException($"The rebuild failed: {rebuild.GetRawText()}");
            }
        }
    }
}
