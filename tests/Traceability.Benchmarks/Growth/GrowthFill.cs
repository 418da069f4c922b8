using System.Diagnostics;
using Traceability.Benchmarks.Figures;

namespace Traceability.Benchmarks.Growth;

/// <summary>Fills the real tables with units like one that the service recorded, in blocks, as their facts would have come.</summary>
/// <remarks>
/// The rows of one unit that was posted to the service are the pattern: keys, ids, serial numbers, days and lots are put in, all
/// else is as the service wrote it. 1,000 units are in work at once: a block holds the first event of each, then the second, so that a
/// unit's events lie apart as they do in a plant. Ids are random like those of senders. All indexes are there from the start.
/// </remarks>
internal sealed class GrowthFill(Bench bench, long unitsTotal)
{
    /// <summary>Units in a block, which is also the number of units that used one lot.</summary>
    public const int Block = 1_000;

    private const int Days = 3_600;

    /// <summary>The first day of the data: ten years to the present, but for the last days.</summary>
    public static DateOnly FirstDay(DateTimeOffset now) => DateOnly.FromDateTime(now.UtcDateTime.Date).AddDays(-Days - 10);

    /// <summary>Events of each unit.</summary>
    public int EventsOfUnit { get; private set; }

    /// <summary>The serial number of a unit.</summary>
    public static string Serial(long unit) => (500_000_000 + unit).ToString(CultureInfo.InvariantCulture);

    /// <summary>Posts a unit to the service and keeps its rows as the pattern.</summary>
    public async Task LearnAsync()
    {
        var (opened, steps) = bench.Facts.Unit();
        await bench.PostBatchAsync([opened.Json, .. steps.Select(s => s.Json)]);
        await RunAsync(
            $"""
            create schema growth;
            create table growth.event as select version, type, mt_dotnet_type, data::text as data, id, timestamp, stream_id
                from events.mt_events where stream_id = (select stream from traceability.receipt where fact_id = '{opened.Id}');
            create table growth.step as select e.version as v, s.* from traceability.step_result s join growth.event e on e.id = s.record;
            create table growth.usage as select e.version as v, s.* from traceability.material_usage s join growth.event e on e.id = s.record;
            create table growth.unit as select * from traceability.unit where 'unit/' || unit = (select min(stream_id) from growth.event);
            create table growth.dep as select d.* from traceability.dependency d join growth.unit u using (unit);
            """);
        EventsOfUnit = Convert.ToInt32(await bench.ScalarAsync(bench.ServiceDatabase, "select count(*) from growth.event"), CultureInfo.InvariantCulture);
        var complete = (bool)(await bench.ScalarAsync(bench.ServiceDatabase, $"select (select count(*) from growth.step) = {Load.FactMaker.Steps} and (select count(*) from growth.usage) = {Load.FactMaker.Steps} and (select count(*) from growth.dep) > 0"))!;
        if (!complete)
        {
            throw new InvalidOperationException("The posted unit did not leave the rows of its steps.");
        }
    }

    /// <summary>Writes these units, block by block; facts a second.</summary>
    public async Task<double> FillAsync(long from, long to)
    {
        var started = Stopwatch.GetTimestamp();
        var pause = TimeSpan.Zero;
        var burst = Stopwatch.GetTimestamp();
        for (var block = from; block < to; block += Block)
        {
            await RunAsync(BlockSql(block, Math.Min(block + Block, to)));
            if (Stopwatch.GetElapsedTime(burst) > TimeSpan.FromSeconds(150))
            {
                // Others may want the machine.
                await Task.Delay(TimeSpan.FromSeconds(10));
                pause += TimeSpan.FromSeconds(10);
                burst = Stopwatch.GetTimestamp();
            }
        }

        return (to - from) * EventsOfUnit / (Stopwatch.GetElapsedTime(started) - pause).TotalSeconds;
    }

    /// <summary>Counts the yields anew and brings the planner's statistics up to date.</summary>
    public async Task SettleAsync(DateOnly before)
    {
        var day = before.ToString("yyyy-MM-dd", CultureInfo.InvariantCulture);
        await RunAsync(
            $"""
            delete from traceability.step_yield_day where day < '{day}';
            insert into traceability.step_yield_day (item, variant, revision, step, station, day, first_attempts, first_passed, attempts, reworks, retests, defects, opportunities)
            select item, variant, revision, step, station, day, count(*), count(*) filter (where passed), count(*), 0, 0, sum(defects), sum(opportunities)
            from traceability.step_result where day < '{day}' group by 1, 2, 3, 4, 5, 6
            """);
        foreach (var table in (string[])["events.mt_events", "events.mt_streams", "traceability.receipt", "traceability.step_result", "traceability.material_usage", "traceability.dependency", "traceability.unit", "traceability.step_yield_day"])
        {
            await RunAsync($"vacuum analyze {table}");
        }
    }

    private string BlockSql(long from, long to)
    {
        var first = FirstDay(TimeProvider.System.GetUtcNow()).ToString("yyyy-MM-dd", CultureInfo.InvariantCulture);
        var units = string.Create(
            CultureInfo.InvariantCulture,
            $"(select u, (500000000 + u)::text as serial, date '{first}' + (u * {Days} / {unitsTotal})::int as day from generate_series({from}, {to - 1}) u) g");
        const string Id = "md5(g.u || '-' || {v})::uuid";
        const string Moved = "(g.day + ({t} at time zone 'UTC')::time) at time zone 'UTC'";
        string At(string column) => Moved.Replace("{t}", column, StringComparison.Ordinal);
        string IdOf(string version) => Id.Replace("{v}", version, StringComparison.Ordinal);
        return string.Create(
            CultureInfo.InvariantCulture,
            $"""
            begin;
            insert into events.mt_streams (id, version, timestamp, created)
            select 'unit/LAMP-4/' || serial, {EventsOfUnit}, g.day, g.day from {units};
            insert into events.mt_events (seq_id, id, stream_id, version, data, type, timestamp, mt_dotnet_type)
            select nextval('events.mt_events_sequence'), {IdOf("e.version")}, 'unit/LAMP-4/' || g.serial, e.version,
                regexp_replace(replace(replace(e.data, split_part(e.stream_id, '/', 3), g.serial), '"L-00"', '"G' || (g.u / {Block}) || '"'), '\d{"{4}"}-\d\d-\d\dT', g.day || 'T', 'g')::jsonb,
                e.type, {At("e.timestamp")}, e.mt_dotnet_type
            from {units}, growth.event e order by e.version, g.u;
            insert into traceability.receipt (fact_id, content_hash, stream, version, recorded_at)
            select {IdOf("e.version")}, sha256((g.u || '-' || e.version)::bytea), 'unit/LAMP-4/' || g.serial, e.version, {At("e.timestamp")}
            from {units}, growth.event e order by e.version, g.u;
            insert into traceability.unit (unit, item, serial, variant, lot, revision, opened_at, place, step, since, has_unreadable, version, judgement)
            select 'LAMP-4/' || g.serial, t.item, g.serial, t.variant, t.lot, t.revision, {At("t.opened_at")}, t.place, t.step, {At("t.since")}, false, t.version, t.judgement from {units}, growth.unit t;
            insert into traceability.step_result
            select 'LAMP-4/' || g.serial, t.row_id # g.u, t.item, t.variant, t.revision, t.step, t.attempt, {IdOf("t.v")}, {At("t.started_at")}, {At("t.completed_at")}, g.day,
                t.station, t.person, t.is_rework, t.passed, t.defects, t.opportunities from {units}, growth.step t order by t.v, g.u;
            insert into traceability.material_usage
            select 'LAMP-4/' || g.serial, t.row_id # g.u, t.item, 'G' || (g.u / {Block}), t.container, t.is_one_of, t.step, {IdOf("t.v")}, t.requirement, {At("t.used_from")}, {At("t.used_to")}, t.station
            from {units}, growth.usage t order by t.v, g.u;
            insert into traceability.dependency select t.subject, 'LAMP-4/' || g.serial from {units}, growth.dep t;
            commit
            """);
    }

    private Task RunAsync(string sql) => bench.ExecuteAsync(bench.ServiceDatabase, sql);
}
