using Npgsql;
using NpgsqlTypes;
using Traceability.Service.Features.Scope;
using Xunit;

namespace Traceability.Service.Tests.Scope;

/// <summary>Rows are looked up by their index, whatever the planner believes of the tables: at two sizes of the fleet.</summary>
public sealed class WorkSqlPlanTests
{
    private const string Fill =
        """
        truncate traceability.unit, traceability.step_result, traceability.tool_usage, traceability.measurement, traceability.interval_result, traceability.work_gap;
        insert into traceability.unit (unit, item, serial, place, has_unreadable, version, judgement)
            select 'IT-' || i % 10 || '/' || i, 'IT-' || i % 10, i::text, 'in-stock', false, 1, 1 from generate_series(1, {0}) i;
        insert into traceability.step_result (unit, row_id, item, variant, revision, step, attempt, record, completed_at, earliest, latest, day, station, person, is_rework, passed, defects, opportunities)
            select 'IT-' || i % 10 || '/' || i, 1, 'IT-' || i % 10, '', 'R' || i % 7, 'S' || i % 20, 1, gen_random_uuid(), timestamptz '2026-01-01' + i * interval '1 minute',
                timestamptz '2026-01-01' + i * interval '1 minute' - case when i % 997 = 0 then interval '3 days' else interval '5 minutes' end, timestamptz '2026-01-01' + i * interval '1 minute', '2026-01-01', 'ST-' || i % 50, 'P-' || i % 60, false, true, 0, 1 from generate_series(1, {0}) i;
        insert into traceability.tool_usage (unit, row_id, tool, step, attempt, record, at, used_from, used_to)
            select 'IT-' || i % 10 || '/' || i, 1, 'T-' || i % 100, 'S', 1, gen_random_uuid(), now(), now(), now() from generate_series(1, {0}) i;
        insert into traceability.measurement (unit, row_id, item, step, attempt, record, characteristic, value, magnitude, dimension, uncertainty, passed, used_from, used_to)
            select 'IT-' || i % 10 || '/' || i, 1, 'IT-' || i % 10, 'S', 1, gen_random_uuid(), 'C-' || i % 100, i || ' N.m', i, 'L2.M.T-2', case when i % 3 = 0 then 1 end, i % 200 > 9, now(), now()
            from generate_series(1, {0}) i;
        insert into traceability.interval_result (unit, row_id, item, rule, from_step, to_step, to_record, least, most, verdict, at)
            select 'IT-' || i % 10 || '/' || i, 1, 'IT-' || i % 10, 'RULE-' || i % 100, 'S', 'T', gen_random_uuid(), i * interval '1 second', i * interval '1 second', 'kept', now()
            from generate_series(1, {0}) i;
        insert into traceability.work_gap (unit, row_id, item, kind, reason, step, requirement, tool_class, record, used_from)
            select 'IT-' || i % 10 || '/' || i, 1, 'IT-' || i % 10, case when i % 200 = 0 then 'step' else (array['interval', 'tool', 'characteristic'])[1 + i % 3] end, 'voided', 'S', 'Q-' || i % 100,
                case when i % 3 = 1 and i % 200 > 0 then 'CLASS-' || i % 40 end, gen_random_uuid(), timestamptz '2026-01-01' + i * interval '1 minute' from generate_series(1, {0}) i;
        analyze traceability.unit, traceability.step_result, traceability.tool_usage, traceability.measurement, traceability.interval_result, traceability.work_gap
        """;

    [Fact]
    public async Task Every_look_up_uses_its_index_at_two_sizes()
    {
        await using var database = await ScopeDatabase.CreateAsync();
        foreach (var units in new[] { 2_000, 60_000 })
        {
            await database.ExecuteAsync(Fill.Replace("{0}", units.ToString(System.Globalization.CultureInfo.InvariantCulture), StringComparison.Ordinal));
            await AssertAsync(database, WorkSql.ToolUses, ["tool_usage_tool", "tool_usage_late", "tool_usage_long"], Texts("T-7"), Instant(null), Instant(null));
            await AssertAsync(database, WorkSql.ToolUses, ["tool_usage_tool", "tool_usage_late", "tool_usage_long"], Texts("T-7"), Instant(From), Instant(From.AddHours(1)));
            await AssertAsync(database, WorkSql.NotPassed, ["measurement_not_passed"], Texts("C-7"), Text(null));
            foreach (var isBelow in new[] { true, false })
            {
                await AssertAsync(
                    database, WorkSql.Beyond(isBelow), ["measurement_value", "measurement_uncertain"], Texts("C-7"), Text("IT-7"), Text("L2.M.T-2"), new() { Value = 900d, NpgsqlDbType = NpgsqlDbType.Double });
            }

            await AssertAsync(database, WorkSql.Shorter, ["interval_result_least"], Texts("RULE-7"), Text(null), Length());
            await AssertAsync(database, WorkSql.Longer, ["interval_result_most"], Texts("RULE-7"), Text(null), Length());
            await AssertAsync(database, WorkSql.Gaps(WorkGapKey.ToolClass), ["work_gap_tool", "unit_pkey"], Texts("CLASS-5"), Text(null), Text("tool"));
            await AssertAsync(database, WorkSql.Gaps(WorkGapKey.Requirement), ["work_gap_requirement", "unit_pkey"], Texts("Q-5"), Text(null), Text("interval"));

            // By its kind alone a good part of what is missing is read, so that reading through the table may be the better way.
            await AssertWorkAsync(database, WorkKey.Person, "step_result_person", Texts("P-7", string.Empty), person: "P-7");
            await AssertWorkAsync(database, WorkKey.Station, "step_result_station", Texts("ST-7", string.Empty), station: "ST-7");
            await AssertWorkAsync(database, WorkKey.Revision, "step_result_revision", Texts("IT-7"), item: "IT-7", revision: "R3");
            await AssertWorkAsync(database, WorkKey.Item, "step_result_revision", Texts("IT-7"), item: "IT-7");
            await AssertWorkAsync(database, WorkKey.Station, "step_result_station", Texts("ST-7", string.Empty), station: "ST-7", from: From);
            if (units > 10_000)
            {
                // A table of a few pages is read whole, and rightly.
                await AssertWorkAsync(database, WorkKey.None, "step_result_completed", Texts(), from: From);
            }

            foreach (var kind in new[] { "ToolUse", "Work", "Measurement", "Interval", "WorkGap" })
            {
                var sql = WorkSql.Evidence(Enum.Parse<Domain.Scope.EvidenceKind>(kind))!;
                await AssertAsync(database, sql, ["_pkey"], Texts("IT-7/7", "IT-8/8"), new() { Value = new[] { 1L, 1L }, NpgsqlDbType = NpgsqlDbType.Array | NpgsqlDbType.Bigint });
            }
        }
    }

    [Fact]
    public async Task Tens_of_thousands_of_units_are_looked_up_by_their_names_at_two_sizes()
    {
        await using var database = await ScopeDatabase.CreateAsync();
        foreach (var units in new[] { 2_000, 60_000 })
        {
            await database.ExecuteAsync(Fill.Replace("{0}", units.ToString(System.Globalization.CultureInfo.InvariantCulture), StringComparison.Ordinal));
            await database.ExecuteAsync(
                "insert into traceability.installation (parent, row_id, component, position, record, installed_from) "
                + "select 'TOP/' || serial, row_number() over (), unit, 'P', gen_random_uuid(), now() from traceability.unit on conflict do nothing; analyze traceability.installation");
            await using var connection = await database.Source.OpenConnectionAsync();
            await using var transaction = await connection.BeginTransactionAsync();
            await using (var plans = new NpgsqlBatch(connection) { BatchCommands = { ScopePlans.Command() } })
            {
                await plans.ExecuteNonQueryAsync();
            }

            string[] names = [.. Enumerable.Range(1, units).Select(i => $"IT-{i % 10}/{i}")];
            Assert.Contains("installation_component", await ExplainAsync(connection, LevelSql.Installations, names), StringComparison.Ordinal);
            var ways = await ExplainAsync(connection, LevelSql.Ways, ["IT-1/1", "IT-2/2"]);
            Assert.Equal(2, ways.Split("installation_component").Length - 1);
            Assert.Contains("Index Scan using unit_pkey", ways, StringComparison.Ordinal);
            Assert.Contains("Index Scan using trace_gap_item", ways, StringComparison.Ordinal);
            Assert.DoesNotContain("Seq Scan", ways, StringComparison.Ordinal);
            var outermost = await ExplainAsync(connection, LevelSql.Outermost, ["IT-1/1", "IT-2/2"]);
            Assert.Contains("installation_component", outermost, StringComparison.Ordinal);
            Assert.Contains("Index Scan using unit_pkey", outermost, StringComparison.Ordinal);
            Assert.Contains("unit_pkey", await ExplainAsync(connection, LevelSql.Units, names), StringComparison.Ordinal);
            Assert.Contains("Index Only Scan using installation_component", await ExplainAsync(connection, LevelSql.ComponentItems, ["IT-1", "TOP"]), StringComparison.Ordinal);
        }
    }

    // Prepared, as the service's statements are, and so with a plan for any parameters.
    private static async Task<string> ExplainAsync(NpgsqlConnection connection, string sql, string[] names)
    {
        await using (var prepare = new NpgsqlCommand($"prepare asked (text[]) as {sql}", connection))
        {
            await prepare.ExecuteNonQueryAsync();
        }

        await using var command = new NpgsqlCommand($"explain execute asked (array['{string.Join("','", names)}'])", connection);
        await using var reader = await command.ExecuteReaderAsync();
        var plan = new System.Text.StringBuilder();
        while (await reader.ReadAsync())
        {
            plan.AppendLine(reader.GetString(0));
        }

        await reader.DisposeAsync();
        await using (var forget = new NpgsqlCommand("deallocate asked", connection))
        {
            await forget.ExecuteNonQueryAsync();
        }

        Assert.DoesNotContain("Seq Scan on installation", plan.ToString(), StringComparison.Ordinal);
        Assert.DoesNotContain("Seq Scan on unit", plan.ToString(), StringComparison.Ordinal);
        return plan.ToString();
    }

    private static Task AssertWorkAsync(
        ScopeDatabase database, WorkKey key, string index, NpgsqlParameter keys, string? item = null, string? revision = null, string? station = null, string? person = null, DateTimeOffset? from = null) =>
        AssertAsync(
            database,
            WorkSql.Work(key),
            [index, "step_result_late", "step_result_long"],
            keys,
            Text(item),
            Text(null),
            Text(revision),
            Text(null),
            Text(station),
            Text(person),
            Instant(from),
            Instant(from?.AddHours(1)));

    private static async Task AssertAsync(ScopeDatabase database, string sql, string[] indexes, params NpgsqlParameter[] parameters)
    {
        await using var command = database.Source.CreateCommand("explain " + sql);
        command.Parameters.AddRange(parameters);
        var lines = new List<string>();
        await using (var reader = await command.ExecuteReaderAsync())
        {
            while (await reader.ReadAsync())
            {
                lines.Add(reader.GetString(0));
            }
        }

        var plan = string.Join('\n', lines);
        Assert.DoesNotContain("Seq Scan", plan, StringComparison.Ordinal);
        Assert.All(indexes, index => Assert.Contains(index, plan, StringComparison.Ordinal));
    }

    private static DateTimeOffset From { get; } = new(2026, 1, 3, 0, 0, 0, TimeSpan.Zero);

    private static NpgsqlParameter Instant(DateTimeOffset? value) => new() { Value = (object?)value?.UtcDateTime ?? DBNull.Value, NpgsqlDbType = NpgsqlDbType.TimestampTz };

    private static NpgsqlParameter Length() => new() { Value = TimeSpan.FromMinutes(8), NpgsqlDbType = NpgsqlDbType.Interval };

    private static NpgsqlParameter Text(string? value) => new() { Value = (object?)value ?? DBNull.Value, NpgsqlDbType = NpgsqlDbType.Text };

    private static NpgsqlParameter Texts(params string[] values) => new() { Value = values, NpgsqlDbType = NpgsqlDbType.Array | NpgsqlDbType.Text };
}
