using System.Diagnostics;
using System.Net;
using Npgsql;
using Traceability.Acceptance.Robustness;
using Traceability.Contracts.Rebuilds;
using Traceability.Testing;
using Xunit.Abstractions;

namespace Traceability.Acceptance.Rebuilds;

/// <summary>Everything derived is built a second time beside the live rows: it equals them, and takes their place unnoticed.</summary>
public sealed class RebuildTests(ITestOutputHelper output)
{
    private const int FactsOfALamp = 12;

    // The full form: a million facts in one works, and a million in twenty.
    public static TheoryData<ulong, int> Histories()
    {
        var histories = new TheoryData<ulong, int>();
        for (var seed = 1UL; seed <= (TestLength.IsLong ? 20UL : 3UL); seed++)
        {
            histories.Add(seed, TestLength.IsLong ? 50_000 : 7_000);
        }

        if (TestLength.IsLong)
        {
            histories.Add(21, 1_000_000);
        }

        return histories;
    }

    [Theory]
    [MemberData(nameof(Histories))]
    public async Task A_rebuild_says_what_the_live_rows_say(ulong seed, int facts)
    {
        await using var host = await ServiceHost.StartAsync();
        var lamps = facts / FactsOfALamp;
        var history = LampHistory.Build(seed, LampWorks.DaysAgo((lamps / 24) + 6), lamps);
        await Terminal.PostAllAsync(host.Admin, history, batch: 2_000);
        await Tables.SettleAsync(host.Database);
        var before = await Tables.DerivedAsync(host.Database);

        var started = Stopwatch.GetTimestamp();
        var rebuild = await RebuildClient.RunAsync(host.Admin);

        var took = Stopwatch.GetElapsedTime(started).TotalSeconds;
        output.WriteLine(FormattableString.Invariant($"seed {seed}: {history.Count} facts, {rebuild.Units} units, {took:0.0} s"));
        RebuildClient.RequireEqual(rebuild);
        Assert.True(rebuild.Units >= lamps && rebuild.Facts >= lamps, "The rebuild has read too little.");
        Assert.All(
            ["finding", "measurement", "interval_result", "work_gap"],
            table => Assert.Contains(rebuild.Comparison!.Tables, t => t.Table == table && t.RebuiltRows > 0));
        Assert.Equal(0, rebuild.Comparison!.LeftOut);
        Tables.RequireNone(Tables.Difference(before, await Tables.DerivedAsync(host.Database)));
        await RebuildClient.RequireNothingLeftAsync(host.Database);
        LongForm.Note(
            FormattableString.Invariant($"8: rebuild against live, history {seed}"),
            FormattableString.Invariant($"{history.Count} facts"),
            FormattableString.Invariant($"{rebuild.Units} units, every derived row equal; {took:0.0} s"));
    }

    [Fact]
    public async Task Tables_and_indexes_after_a_rebuild_are_those_of_the_migrations()
    {
        await using var host = await ServiceHost.StartAsync();
        var fresh = await CatalogueAsync(host.Database);
        await Terminal.PostAllAsync(host.Admin, LampHistory.Build(4, LampWorks.DaysAgo(6), 5), batch: 100);

        await RebuildClient.RunAsync(host.Admin);
        await RebuildClient.RunAsync(host.Admin);

        Assert.Contains(fresh, l => l.StartsWith("index unit_item_place", StringComparison.Ordinal));
        Assert.Equal(string.Join('\n', fresh), string.Join('\n', await CatalogueAsync(host.Database)));
        Assert.Equal(0, await ScalarAsync(host.Database, "select count(*) from pg_class where relname in ('unit', 'finding') and relnamespace = 'traceability'::regnamespace and reltuples < 0"));
    }

    [Fact]
    public async Task Wrong_live_rows_are_named_and_a_rebuild_puts_them_right()
    {
        await using var host = await ServiceHost.StartAsync();
        var works = new LampWorks(31, LampWorks.DaysAgo(6));
        await Terminal.PostAllAsync(host.Admin, [.. works.Definitions(), .. Enumerable.Range(1, 9).SelectMany(l => works.SimpleLamp(l, l))], batch: 100);
        await Tables.SettleAsync(host.Database);
        var right = await Tables.DerivedAsync(host.Database);
        await ExecuteAsync(host.Database, "update traceability.step_result set station = 'ST-9' where unit = 'LAMP/1' and step = 'WIRE'");
        await ExecuteAsync(host.Database, "delete from traceability.material_usage where unit = 'LAMP/2'");
        await ExecuteAsync(host.Database, "update traceability.unit set place = 'shipped' where unit = 'LAMP/3'");
        await ExecuteAsync(host.Database, "insert into traceability.dependency values ('tool/SD-9', 'LAMP/4')");
        await ExecuteAsync(host.Database, "delete from traceability.unit where unit = 'LAMP/5'");
        await ExecuteAsync(host.Database, "update traceability.step_yield_day set attempts = attempts + 1 where step = 'GLUE'");
        var wrong = await Tables.DerivedAsync(host.Database);

        var compared = (await RebuildClient.RunAsync(host.Admin, compareOnly: true)).Comparison!;

        Assert.Equal(5, compared.DifferingUnits);
        Assert.Equal(
            ["LAMP/1 step_result", "LAMP/2 material_usage", "LAMP/3 unit", "LAMP/4 dependency", "LAMP/5 unit"],
            compared.Differing.Select(d => $"{d.Unit} {string.Join('+', d.Tables)}"));
        Assert.True(compared.DifferingYields > 0);
        Tables.RequireNone(Tables.Difference(wrong, await Tables.DerivedAsync(host.Database)));

        Assert.Equal(5, (await RebuildClient.RunAsync(host.Admin)).Comparison!.DifferingUnits);
        Tables.RequireNone(Tables.Difference(right, await Tables.DerivedAsync(host.Database)));
        RebuildClient.RequireEqual(await RebuildClient.RunAsync(host.Admin));

        // The service remembers the rows of units that it wrote: what it remembers of these five is no longer so.
        await Terminal.PostAllAsync(host.Admin, [.. Enumerable.Range(1, 9).Select(l => works.Fact("unit-held", 60, LampWorks.Unit("LAMP", l) + ""","reason":"Doubt" """))], batch: 9);
        await RebuildClient.RequireFreshAsync(host.Database);
    }

    [Fact]
    public async Task One_rebuild_runs_at_a_time()
    {
        await using var host = await ServiceHost.StartAsync();
        await using var holding = await host.Database.OpenConnectionAsync();
        await using var open = await holding.BeginTransactionAsync();
        await ExecuteAsync(holding, "lock table traceability.unit in row exclusive mode");

        await RebuildClient.StartAsync(host.Admin);
        using var second = await host.Admin.PostAsync("/api/rebuilds", null);

        Assert.Equal(HttpStatusCode.Conflict, second.StatusCode);
        Assert.Contains("rebuild-running", await second.Content.ReadAsStringAsync(), StringComparison.Ordinal);
        await open.CommitAsync();
        Assert.Equal(RebuildState.Done, (await RebuildClient.EndAsync(host.Admin)).State);
    }

    private static async Task<List<string>> CatalogueAsync(NpgsqlDataSource database)
    {
        await using var command = database.CreateCommand(
            """
            select line from (
              select 'table ' || c.relname || ' ' || c.relkind::text || ' ' || c.relpersistence::text || ' ' || coalesce(array_to_string(c.reloptions, ','), '') as line
                from pg_class c where relnamespace = 'traceability'::regnamespace and relkind <> 'i'
              union all
              select 'column ' || c.relname || ' ' || a.attnum::text || ' ' || a.attname || ' ' || format_type(a.atttypid, a.atttypmod) || ' ' || a.attnotnull::text || ' ' || a.attidentity::text || ' '
                  || a.attstorage::text || ' ' || coalesce(pg_get_expr(d.adbin, d.adrelid), '')
                from pg_class c join pg_attribute a on a.attrelid = c.oid and a.attnum > 0 left join pg_attrdef d on d.adrelid = c.oid and d.adnum = a.attnum
                where relnamespace = 'traceability'::regnamespace and relkind = 'r'
              union all
              select 'index ' || n.relname || ' ' || pg_get_indexdef(i.indexrelid) || ' ' || i.indisprimary::text || ' ' || i.indisvalid::text from pg_index i join pg_class n on n.oid = i.indexrelid
                where n.relnamespace = 'traceability'::regnamespace
              union all
              select 'constraint ' || conname || ' ' || conrelid::regclass::text || ' ' || pg_get_constraintdef(oid) from pg_constraint where connamespace = 'traceability'::regnamespace
              union all
              select 'trigger ' || tgname from pg_trigger where not tgisinternal and tgrelid in (select oid from pg_class where relnamespace = 'traceability'::regnamespace)
              union all
              select 'sequence ' || s.seqrelid::regclass::text || ' of ' || d.refobjid::regclass::text from pg_sequence s join pg_depend d on d.objid = s.seqrelid and d.deptype = 'i'
                where s.seqrelid in (select oid from pg_class where relnamespace = 'traceability'::regnamespace)) l
            order by 1
            """);
        await using var reader = await command.ExecuteReaderAsync();
        List<string> lines = [];
        while (await reader.ReadAsync())
        {
            lines.Add(reader.GetString(0));
        }

        return lines;
    }

    private static async Task ExecuteAsync(NpgsqlDataSource database, string sql)
    {
        await using var connection = await database.OpenConnectionAsync();
        await ExecuteAsync(connection, sql);
    }

    private static async Task ExecuteAsync(NpgsqlConnection connection, string sql)
    {
        await using var command = new NpgsqlCommand(sql, connection);
        Assert.NotEqual(0, await command.ExecuteNonQueryAsync());
    }

    private static async Task<long> ScalarAsync(NpgsqlDataSource database, string sql)
    {
        await using var command = database.CreateCommand(sql);
        return (long)(await command.ExecuteScalarAsync())!;
    }
}
