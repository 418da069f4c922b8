using Npgsql;
using Traceability.Service.Ingest;
using Traceability.Service.Storage;
using Traceability.Testing;
using Xunit;

namespace Traceability.Service.Tests.Ingest;

/// <summary>Whoever records waits while a unit's rows are looked up: by their keys, in one process, whatever the planner believes.</summary>
public sealed class UnitLoaderPlanTests
{
    // Nobody has counted the rows yet: the planner takes a unit to have thousands. And it takes further workers to cost nothing.
    private const string Fill =
        """
        set parallel_setup_cost = 0; set parallel_tuple_cost = 0; set min_parallel_index_scan_size = 0; set min_parallel_table_scan_size = 0;
        insert into traceability.tool_usage (unit, row_id, tool, step, attempt, record, at, used_from, used_to)
            select 'IT/' || i, 1, 'T', 'S', 1, gen_random_uuid(), now(), now(), now() from generate_series(1, 100000) i;
        insert into traceability.measurement (unit, row_id, item, step, attempt, record, characteristic, value, magnitude, dimension, passed, used_from, used_to)
            select 'IT/' || i, 1, 'IT', 'S', 1, gen_random_uuid(), 'C', '1 N.m', 1, 'L2.M.T-2', true, now(), now() from generate_series(1, 100000) i;
        """;

    [Fact]
    public async Task Rows_are_looked_up_by_their_keys_and_by_no_parallel_workers()
    {
        await using var test = await PostgresServer.CreateDatabaseAsync();
        await using var source = Database.Open(test.ConnectionString, new StorageOptions(), CommitDatabase.SessionName, Database.ForCommits);
        using var store = Marten.DocumentStore.For(o => EventStore.Configure(o, source));
        await new Migrator(source, store).ApplyAsync(CancellationToken.None);
        await using var connection = await source.OpenConnectionAsync();
        await using (var fill = new NpgsqlCommand(Fill, connection))
        {
            await fill.ExecuteNonQueryAsync();
        }

        // As the driver prepares it: the committer's plans are made once, for any units.
        await using var command = new NpgsqlCommand($"prepare look (text[]) as {UnitLoader.RowsSql}; explain execute look('{{IT/1}}')", connection);
        var plan = new List<string>();
        await using var reader = await command.ExecuteReaderAsync();
        while (await reader.ReadAsync())
        {
            plan.Add(reader.GetString(0));
        }

        Assert.Contains(plan, l => l.Contains("measurement_pkey", StringComparison.Ordinal));
        Assert.DoesNotContain(plan, l => l.Contains("Gather", StringComparison.Ordinal));
    }
}
