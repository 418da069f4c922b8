using System.Diagnostics;
using Npgsql;
using Traceability.Benchmarks.Load;

namespace Traceability.Benchmarks.Figures;

/// <summary>A month's yield by step and day over HTTP beside the query over all step results; and how far the counters are behind.</summary>
internal static class YieldFigure
{
    private const string Query =
        """
        select day, step, sum((attempt = 1)::int), sum((attempt = 1 and passed and not is_rework)::int), count(*), sum(defects)
        from traceability.step_result where item = 'PUMP-9' and day between '2026-03-01' and '2026-03-30' group by day, step
        """;

    public static async Task RunAsync(Bench bench)
    {
        var records = bench.IsQuick ? 1_000_000 : 5_000_000;
        await bench.PostBatchAsync(["""{"factId":"00000000-0000-0000-0000-0000000000aa","type":"item-defined","occurredAt":"2026-01-01T00:00:00Z","item":"PUMP-9","kind":"product","description":"Pump"}"""]);
        await FillAsync(bench, records);
        var request = Requests.Get("/api/yield/steps?item=PUMP-9&from=2026-03-01&to=2026-03-30&by=step,day", bench.Key);
        using var http = await RawConnection.OpenAsync(bench.Service.At);
        await http.WarmUpAsync(request);
        var answers = new List<double>();
        for (var i = 0; i < 60; i++)
        {
            var started = Stopwatch.GetTimestamp();
            if (await http.SendAsync(request) is not 200)
            {
                throw new InvalidOperationException($"Yield was answered {http.LastAnswer[..Math.Min(1000, http.LastAnswer.Length)]}");
            }

            answers.Add(Stopwatch.GetElapsedTime(started).TotalMilliseconds);
        }

        await using var connection = new NpgsqlConnection(bench.ServiceDatabase);
        await connection.OpenAsync();
        var queries = new List<double>();
        for (var i = 0; i < 5; i++)
        {
            var started = Stopwatch.GetTimestamp();
            await using var command = new NpgsqlCommand(Query, connection) { CommandTimeout = 0 };
            await command.ExecuteNonQueryAsync();
            queries.Add(Stopwatch.GetElapsedTime(started).TotalMilliseconds);
        }

        var median = answers.Skip(10).Order().ElementAt(25);
        bench.Report.Below($"yield of a month by step and day, {records:#,##0} records: median over HTTP", median, 5, "ms");
        bench.Report.AtLeast($"yield of a month by step and day, {records:#,##0} records: query over the records, answer", queries.Order().ElementAt(2), median, "ms", 300);
    }

    /// <summary>The age of the oldest difference that is not folded, while facts come at 2,000 a second.</summary>
    public static async Task LagAsync(Bench bench)
    {
        var facts = await bench.PrepareAsync(32, bench.IsQuick ? 20_000 : 60_000);
        var requests = facts.Select(c => c.Select(f => Requests.Post("/api/facts", bench.Key, f.Id, f.Json)).ToArray()).ToArray();
        var load = LoadRun.RunAsync(bench.Service.At, requests, perSecond: 2_000);
        await using var connection = new NpgsqlConnection(bench.ServiceDatabase);
        await connection.OpenAsync();
        await using var command = new NpgsqlCommand(
            "select coalesce((select min(id) from traceability.step_yield_change), 0), (select last_value from traceability.step_yield_change_id_seq)", connection);
        await command.PrepareAsync();
        var seen = new Queue<(long Last, long At)>();
        var ages = new List<double>();
        while (!load.IsCompleted)
        {
            await using (var reader = await command.ExecuteReaderAsync())
            {
                await reader.ReadAsync();
                var (oldest, last) = (reader.GetInt64(0), reader.GetInt64(1));
                var now = Stopwatch.GetTimestamp();
                seen.Enqueue((last, now));
                while (seen.Count > 1 && seen.Peek().Last < oldest)
                {
                    seen.Dequeue();
                }

                // First seen then, so no older than the look before; a difference that is not there has no age.
                ages.Add(oldest == 0 ? 0 : Stopwatch.GetElapsedTime(seen.Peek().At, now).TotalMilliseconds);
            }

            await Task.Delay(2);
        }

        var rate = (await load).PerSecond;
        ages.Sort();
        bench.Report.Below($"age of the oldest yield difference not folded, 99 %, at {rate:0} facts/s", ages[(int)(ages.Count * 0.99)], 50, "ms");
    }

    private static async Task FillAsync(Bench bench, int records)
    {
        var range = $"generate_series(0, {(records - 1).ToString(CultureInfo.InvariantCulture)}) i";
        await bench.ExecuteAsync(
            bench.ServiceDatabase,
            $"insert into traceability.step_result (unit, row_id, item, variant, revision, step, attempt, record, completed_at, day, station, person, is_rework, passed, defects, opportunities) select 'PUMP-9/' || (i / 20), i, 'PUMP-9', '', 'A', 'S' || (i % 20), 1, '00000000-0000-0000-0000-000000000000', timestamptz '2026-03-01 08:00Z' + (i % 90) * interval '1 day', date '2026-03-01' + i % 90, 'ST-' || (i % 7), '', false, i % 50 <> 0, (i % 50 = 0)::int, 3 from {range}");
        await bench.ExecuteAsync(
            bench.ServiceDatabase,
            """
            insert into traceability.step_yield_day (item, variant, revision, step, station, day, first_attempts, first_passed, attempts, reworks, retests, defects, opportunities)
            select item, variant, revision, step, station, day, count(*), count(*) filter (where passed), count(*), 0, 0, sum(defects), sum(opportunities)
            from traceability.step_result where item = 'PUMP-9' group by 1, 2, 3, 4, 5, 6
            """);
        await bench.ExecuteAsync(bench.ServiceDatabase, "vacuum analyze traceability.step_result, traceability.step_yield_day");
    }
}
