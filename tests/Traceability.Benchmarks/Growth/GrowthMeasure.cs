using System.Diagnostics;
using System.Text.Json;
using Npgsql;
using Traceability.Benchmarks.Figures;
using Traceability.Benchmarks.Load;

namespace Traceability.Benchmarks.Growth;

/// <summary>The figures of one layout at one size, in the order in which they were measured.</summary>
internal sealed record GrowthFigures(Layout Layout, long Events, IReadOnlyList<(string Name, double Value, string Unit)> Values);

/// <summary>Measures a filled database through the running service, and beside it what PostgreSQL says of itself.</summary>
internal sealed class GrowthMeasure(Bench bench, Layout layout)
{
    private const int Connections = 64;
    private readonly List<(string Name, double Value, string Unit)> _values = [];

    public async Task<GrowthFigures> RunAsync(GrowthFill fill, long units, double fillRate, DateTimeOffset now)
    {
        Add("filled by SQL, all indexes live", fillRate, "facts/s");
        await fill.SettleAsync(DateOnly.FromDateTime(now.UtcDateTime).AddDays(-5));
        await SizesAsync();
        await PostsAsync();
        await ColdUnitsAsync(units);
        await ScopeAsync(units);
        await YieldAsync(now);
        await UpkeepAsync();
        return new(layout, units * fill.EventsOfUnit, _values);
    }

    private async Task SizesAsync()
    {
        Add("database", await NumberAsync("select pg_database_size(current_database()) / 1e6"), "MB");
        Add("database, a fact", await NumberAsync("select pg_database_size(current_database())::float8 / (select last_value from events.mt_events_sequence)"), "bytes");
        foreach (var table in Layouts.Tables)
        {
            foreach (var index in table.Indexes)
            {
                var leaves = $"(select c.oid, c.relname, n.nspname from pg_partition_tree('{table.Schema}.{index.Name}') p join pg_class c on c.oid = p.relid join pg_namespace n on n.oid = c.relnamespace where p.isleaf union select c.oid, c.relname, n.nspname from pg_class c join pg_namespace n on n.oid = c.relnamespace where c.oid = '{table.Schema}.{index.Name}'::regclass and c.relkind = 'i') l";
                Add($"index {index.Name}, all its parts", await NumberAsync($"select sum(pg_relation_size(l.oid)) / 1e6 from {leaves}"), "MB");
                Add($"index {index.Name}, depth", await NumberAsync($"select max((bt_metap(l.nspname || '.' || l.relname)).level) + 1 from {leaves}"), "levels");
            }
        }
    }

    private async Task PostsAsync()
    {
        await PostAsync(6_400);
        var rates = new List<(double Rate, double Database, double Service, double P99, double Wal, double Blocks, double Read)>();
        for (var run = 0; run < 3; run++)
        {
            rates.Add(await PostAsync(19_200));
        }

        var middle = rates.OrderBy(r => r.Database).ElementAt(1);
        Add($"posts, {Connections} connections: median of 3 runs", rates.Select(r => r.Rate).Order().ElementAt(1), "1/s");
        Add("a post: 99 %", middle.P99, "ms");
        Add("a post: processor time of PostgreSQL", middle.Database, "µs");
        Add("a post: processor time of the service", middle.Service, "µs");
        Add("a post: written to the log", middle.Wal, "bytes");
        Add("a post: blocks looked at", middle.Blocks, "blocks");
        Add("a post: of these not in shared buffers", middle.Read, "blocks");
    }

    private async Task<(double Rate, double Database, double Service, double P99, double Wal, double Blocks, double Read)> PostAsync(int posts)
    {
        var facts = await bench.PrepareAsync(Connections, posts);
        var requests = facts.Select(c => c.Select(f => Requests.Post("/api/facts", bench.Key, f.Id, f.Json)).ToArray()).ToArray();
        await bench.ExecuteAsync(bench.ServiceDatabase, "checkpoint");
        var (database, service, before) = (bench.DatabaseProcessorTime(), bench.Service.ProcessorTime(), await CountersAsync());
        var load = await LoadRun.RunAsync(bench.Service.At, requests);
        var after = await CountersAsync();
        double Each(double value) => value / load.Posts;
        return (
            load.PerSecond,
            Each((bench.DatabaseProcessorTime() - database).TotalMicroseconds),
            Each((bench.Service.ProcessorTime() - service).TotalMicroseconds),
            load.P99,
            Each(after.Wal - before.Wal),
            Each(after.Blocks - before.Blocks),
            Each(after.Read - before.Read));
    }

    private async Task<(double Wal, double Blocks, double Read)> CountersAsync()
    {
        // Sessions tell their counts at most once a second.
        await Task.Delay(TimeSpan.FromSeconds(1.5));
        return (
            await NumberAsync("select pg_wal_lsn_diff(pg_current_wal_lsn(), '0/0')"),
            await NumberAsync("select blks_hit + blks_read from pg_stat_database where datname = current_database()"),
            await NumberAsync("select blks_read from pg_stat_database where datname = current_database()"));
    }

    // Spread over all ten years, each asked for once; the page cache of the kernel has most of it.
    private async Task ColdUnitsAsync(long units)
    {
        var serials = Enumerable.Range(0, 200).Select(i => GrowthFill.Serial(((i * (units / 200)) + (i % 97)) % units)).ToArray();
        Add("build record of a cold unit: median", await MedianAsync([.. serials.Select(s => $"/api/units/LAMP-4/{s}/build-record")], warm: 20), "ms");
        var (planned, ran, blocks) = await ExplainAsync($"select stream_id, id, type, data::text, timestamp from events.mt_events where stream_id = any(array['unit/LAMP-4/{GrowthFill.Serial(units / 3)}']::varchar[]) order by stream_id, version");
        Add("events of a cold unit, as the service reads them: planning", planned, "ms");
        Add("events of a cold unit: running", ran, "ms");
        Add("events of a cold unit: blocks", blocks, "blocks");
        var key = $"array['LAMP-4/{GrowthFill.Serial(units / 3)}']";
        (planned, ran, blocks) = await ExplainAsync($"select 0, unit, row_id from traceability.step_result where unit = any({key}) union all select 4, unit, row_id from traceability.material_usage where unit = any({key})");
        Add("rows of a cold unit, as the service reads them: planning", planned, "ms");
        Add("rows of a cold unit: running", ran, "ms");
        Add("rows of a cold unit: blocks", blocks, "blocks");
    }

    private async Task ScopeAsync(long units)
    {
        // A lot from the first third, the middle and the last third; each was received and emptied around its use.
        var paths = new List<string>();
        foreach (var lot in new[] { units / 3 / GrowthFill.Block, units / 2 / GrowthFill.Block, units * 5 / 6 / GrowthFill.Block })
        {
            var window = (string)(await bench.ScalarAsync(bench.ServiceDatabase, $"select to_char(min(used_from) at time zone 'UTC', 'YYYY-MM-DD\"T\"HH24:MI:SS\"Z\"') || ' ' || to_char(max(used_to) at time zone 'UTC' + interval '1 second', 'YYYY-MM-DD\"T\"HH24:MI:SS\"Z\"') from traceability.material_usage where item = 'ADH-1' and lot = 'G{lot}'"))!;
            var times = window.Split(' ');
            var key = $"\"lot\":{{\"item\":\"ADH-1\",\"lot\":\"G{lot}\"}}";
            await bench.PostBatchAsync([
                $$"""{"factId":"{{new Guid((int)lot, 9, 1, new byte[8])}}","type":"lot-received","occurredAt":"{{times[0]}}",{{key}},"isReleased":true}""",
                $$"""{"factId":"{{new Guid((int)lot, 9, 2, new byte[8])}}","type":"lot-emptied","occurredAt":"{{times[1]}}",{{key}}}"""]);

            paths.AddRange(Enumerable.Repeat($"/api/lots/ADH-1/G{lot}/scope", 10));
        }

        // Receiving a lot asks its users to be judged again; that is to be over.
        await QuietAsync();
        Add($"scope of a lot of {GrowthFill.Block} units over HTTP: median", await MedianAsync([.. paths], warm: 6), "ms");
        var (planned, ran, blocks) = await ExplainAsync($"select unit, row_id, container, is_one_of, step is null, used_from, used_to, station from traceability.material_usage where item = 'ADH-1' and lot = 'G{units / 2 / GrowthFill.Block}'");
        Add("uses of that lot: planning", planned, "ms");
        Add("uses of that lot: running", ran, "ms");
        Add("uses of that lot: blocks", blocks, "blocks");
    }

    private async Task YieldAsync(DateTimeOffset now)
    {
        // A month that the data of every size has.
        var from = GrowthFill.FirstDay(now).AddDays(60);
        var (first, last) = (from.ToString("yyyy-MM-dd", CultureInfo.InvariantCulture), from.AddDays(29).ToString("yyyy-MM-dd", CultureInfo.InvariantCulture));
        Add("yield of a month by step and day over HTTP: median", await MedianAsync([.. Enumerable.Repeat($"/api/yield/steps?item=LAMP-4&from={first}&to={last}&by=step,day", 40)], warm: 10), "ms");
        var (_, ran, blocks) = await ExplainAsync($"select day, step, count(*), sum(defects) from traceability.step_result where item = 'LAMP-4' and day between '{first}' and '{last}' and completed_at >= '{first} 00:00Z' and completed_at < timestamptz '{last} 00:00Z' + interval '1 day' group by day, step");
        Add("the same counted from all step results by SQL (not done by the service)", ran, "ms");
        Add("the same: blocks", blocks, "blocks");
    }

    private async Task UpkeepAsync()
    {
        Add("vacuum of mt_events, nothing to do", await SecondsAsync("vacuum events.mt_events"), "s");
        Add("vacuum of material_usage after 1 % was updated", await VacuumAfterUpdateAsync(), "s");
        Add("index (stream_id, version) built anew, all parts", await SecondsAsync("reindex index events.pk_mt_events_stream_and_version"), "s");
        if (layout != Layout.One)
        {
            var part = (string)(await bench.ScalarAsync(bench.ServiceDatabase, "select i.indexrelid::regclass::text from pg_partition_tree('events.mt_events') p join pg_index i on i.indrelid = p.relid join pg_class c on c.oid = i.indexrelid where p.isleaf order by pg_relation_size(i.indrelid) desc, c.relname desc limit 1"))!;
            Add("one part of it, the largest", await SecondsAsync($"reindex index {part}"), "s");
        }
    }

    private async Task<double> VacuumAfterUpdateAsync()
    {
        await bench.ExecuteAsync(bench.ServiceDatabase, "update traceability.material_usage set station = station where hashtext(unit) % 100 = 0");
        return await SecondsAsync("vacuum traceability.material_usage");
    }

    private async Task<double> SecondsAsync(string sql)
    {
        var started = Stopwatch.GetTimestamp();
        await bench.ExecuteAsync(bench.ServiceDatabase, sql);
        return Stopwatch.GetElapsedTime(started).TotalSeconds;
    }

    private async Task QuietAsync()
    {
        for (var tries = 0; await NumberAsync("select count(*) from traceability.rejudge") > 0; tries++)
        {
            if (tries > 120)
            {
                throw new InvalidOperationException("Units are still to be judged again after two minutes.");
            }

            await Task.Delay(TimeSpan.FromSeconds(1));
        }
    }

    private async Task<double> MedianAsync(string[] paths, int warm)
    {
        using var http = await RawConnection.OpenAsync(bench.Service.At);
        var times = new List<double>();
        foreach (var path in paths)
        {
            var started = Stopwatch.GetTimestamp();
            if (await http.SendAsync(Requests.Get(path, bench.Key)) is not 200)
            {
                throw new InvalidOperationException($"{path} was answered {http.LastAnswer[..Math.Min(1000, http.LastAnswer.Length)]}");
            }

            times.Add(Stopwatch.GetElapsedTime(started).TotalMilliseconds);
        }

        return times.Skip(warm).Order().ElementAt((times.Count - warm) / 2);
    }

    /// <summary>Planning and running time in ms and blocks looked at, of the second of two runs.</summary>
    private async Task<(double Planned, double Ran, double Blocks)> ExplainAsync(string sql)
    {
        await bench.ScalarAsync(bench.ServiceDatabase, $"explain (analyze, buffers, format json) {sql}");
        var plan = (string)(await bench.ScalarAsync(bench.ServiceDatabase, $"explain (analyze, buffers, format json) {sql}"))!;
        using var json = JsonDocument.Parse(plan);
        var root = json.RootElement[0];
        var top = root.GetProperty("Plan");
        return (
            root.GetProperty("Planning Time").GetDouble(),
            root.GetProperty("Execution Time").GetDouble(),
            top.GetProperty("Shared Hit Blocks").GetDouble() + top.GetProperty("Shared Read Blocks").GetDouble());
    }

    private async Task<double> NumberAsync(string sql)
    {
        try
        {
            return Convert.ToDouble(await bench.ScalarAsync(bench.ServiceDatabase, sql), CultureInfo.InvariantCulture);
        }
        catch (PostgresException e)
        {
            throw new InvalidOperationException($"{sql}: {e.MessageText}", e);
        }
    }

    private void Add(string name, double value, string unit)
    {
        Console.WriteLine(string.Create(CultureInfo.InvariantCulture, $"  {layout}: {name}: {value:0.###} {unit}"));
        _values.Add((name, value, unit));
    }
}
