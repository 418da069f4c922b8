using System.Diagnostics;
using Npgsql;

namespace Traceability.Acceptance.Robustness;

/// <summary>Looks into the service's tables: how many rows, and what they say.</summary>
internal static class Tables
{
    private static readonly TimeSpan SettleTimeout = TimeSpan.FromSeconds(120);

    // Without the count of judgements, which tells how often, not what was judged.
    private static readonly string[] Derived = ["unit", "step_result", "unit_result", "finding", "open_interval", "material_usage", "trace_gap", "installation", "cure_window", "tool_usage", "nonconformance", "measurement", "interval_result", "work_gap", "shipment", "dependency"];

    private static readonly (string Change, string Day, string Key, string[] Counts)[] Yields =
    [
        ("step_yield_change", "step_yield_day", "item, variant, revision, step, station, day", ["first_attempts", "first_passed", "attempts", "reworks", "retests", "defects", "opportunities"]),
        ("unit_yield_change", "unit_yield_day", "item, variant, revision, day", ["ended", "passed", "scrapped"]),
    ];

    /// <summary>The number of rows of every table of the service and of its event store, as text by name; without the reach of lots, which is counted by the clock and not by what is sent.</summary>
    public static async Task<string> CountsAsync(NpgsqlDataSource database)
    {
        List<string> tables = [];
        await using (var names = database.CreateCommand(
            "select table_schema || '.' || table_name from information_schema.tables where table_schema in ('events', 'traceability') and table_type = 'BASE TABLE' and table_name not in ('lot_dispersion', 'item_dispersion', 'dispersion_count') order by 1"))
        {
            await using var reader = await names.ExecuteReaderAsync();
            while (await reader.ReadAsync())
            {
                tables.Add(reader.GetString(0));
            }
        }

        await using var counts = database.CreateCommand(string.Join(" union all ", tables.Select(t => $"select '{t}', count(*) from {t}")) + " order by 1");
        await using var rows = await counts.ExecuteReaderAsync();
        List<string> lines = [];
        while (await rows.ReadAsync())
        {
            lines.Add(FormattableString.Invariant($"{rows.GetString(0)} {rows.GetInt64(1)}"));
        }

        return string.Join('\n', lines);
    }

    /// <summary>The number of rows of one table.</summary>
    public static async Task<long> CountAsync(NpgsqlDataSource database, string table)
    {
        await using var command = database.CreateCommand($"select count(*) from {table}");
        return (long)(await command.ExecuteScalarAsync())!;
    }

    /// <summary>Waits until no unit is to be judged again and the background work has come to rest.</summary>
    public static async Task SettleAsync(NpgsqlDataSource database)
    {
        var started = Stopwatch.GetTimestamp();
        var before = string.Empty;
        while (true)
        {
            var now = await CountsAsync(database);
            if (string.Equals(now, before, StringComparison.Ordinal) && await CountAsync(database, "traceability.rejudge") == 0)
            {
                return;
            }

            if (Stopwatch.GetElapsedTime(started) > SettleTimeout)
            {
                throw new TimeoutException($"After {SettleTimeout} units still wait to be judged again:\n{now}");
            }

            before = now;
            await Task.Delay(250);
        }
    }

    /// <summary>Everything that is derived from the facts, one line a row, sorted.</summary>
    public static async Task<IReadOnlyList<string>> DerivedAsync(NpgsqlDataSource database)
    {
        List<string> lines = [];
        foreach (var table in Derived)
        {
            await ReadAsync(database, $"select '{table} ' || (to_jsonb(t) - 'judgement')::text from traceability.{table} t", lines);
        }

        foreach (var (change, day, key, counts) in Yields)
        {
            var columns = string.Join(", ", counts);
            var sums = string.Join(", ", counts.Select(c => $"sum({c}) as {c}"));
            await ReadAsync(
                database,
                $"""
                select '{day} ' || to_jsonb(t)::text from (
                  select {key}, {sums} from (select {key}, {columns} from traceability.{day} union all select {key}, {columns} from traceability.{change}) u group by {key}) t
                where {string.Join(" or ", counts.Select(c => $"{c} <> 0"))}
                """,
                lines);
        }

        lines.Sort(StringComparer.Ordinal);
        return lines;
    }

    /// <summary>What only one of two readings says; empty if they are the same.</summary>
    public static string Difference(IReadOnlyList<string> expected, IReadOnlyList<string> actual)
    {
        var missing = expected.Except(actual, StringComparer.Ordinal).Select(l => $"- {l}").ToArray();
        var extra = actual.Except(expected, StringComparer.Ordinal).Select(l => $"+ {l}").ToArray();
        var doubled = expected.Count != actual.Count && missing.Length + extra.Length == 0 ? [FormattableString.Invariant($"{expected.Count} rows, {actual.Count} rows")] : Array.Empty<string>();
        string[] all = [.. missing, .. extra, .. doubled];
        return string.Join('\n', all.Order(StringComparer.Ordinal).Take(40)) + (all.Length > 40 ? FormattableString.Invariant($"\n... {all.Length} in all") : string.Empty);
    }

    /// <summary>Fails with the whole difference, if there is one.</summary>
    public static void RequireNone(string difference) => Xunit.Assert.True(difference.Length == 0, difference);

    private static async Task ReadAsync(NpgsqlDataSource database, string sql, List<string> lines)
    {
        await using var command = database.CreateCommand(sql);
        await using var reader = await command.ExecuteReaderAsync();
        while (await reader.ReadAsync())
        {
            lines.Add(reader.GetString(0));
        }
    }
}
