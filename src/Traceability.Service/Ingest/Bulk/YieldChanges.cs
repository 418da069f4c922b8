using System.Globalization;

namespace Traceability.Service.Ingest.Bulk;

/// <summary>Yield counters as sums over result rows, in SQL: what many rows add to them or take from them, one row for each counter.</summary>
/// <remarks>The counts are those that <see cref="UnitRowWriter"/> queues for each single row.</remarks>
internal static class YieldChanges
{
    private const string StepKey = "item, variant, revision, step, station, day";
    private const string UnitKey = "item, variant, revision, day";

    private static readonly ImmutableArray<(string Name, string Count)> StepCounts =
    [
        ("first_attempts", "attempt = 1"), ("first_passed", "attempt = 1 and passed and not is_rework"), ("attempts", "true"),
        ("reworks", "is_rework"), ("retests", "attempt > 1 and not is_rework"), ("defects", string.Empty), ("opportunities", string.Empty),
    ];

    private static readonly ImmutableArray<(string Name, string Count)> UnitCounts =
        [("ended", "true"), ("passed", "passed"), ("scrapped", "is_scrapped")];

    /// <summary>Inserts the sums over a schema's step results into one of its tables.</summary>
    /// <param name="schema">The schema.</param>
    /// <param name="into">step_yield_change or step_yield_day.</param>
    /// <param name="sign">1 to add, -1 to take away.</param>
    /// <param name="where">Which rows, such as "where unit = any($1)".</param>
    public static string Steps(string schema, string into, int sign, string where = "") => Sql(schema, into, "step_result", StepKey, StepCounts, sign, where);

    /// <summary>The same over the results of units, into unit_yield_change or unit_yield_day.</summary>
    public static string Units(string schema, string into, int sign, string where = "") => Sql(schema, into, "unit_result", UnitKey, UnitCounts, sign, where);

    private static string Sql(string schema, string into, string from, string key, ImmutableArray<(string Name, string Count)> counts, int sign, string where)
    {
        var factor = sign.ToString(CultureInfo.InvariantCulture);
        var sums = counts.Select(c => $"{factor} * {(c.Count.Length == 0 ? $"sum({c.Name})" : $"count(*) filter (where {c.Count})")}");
        return $"insert into {schema}.{into} ({key}, {string.Join(", ", counts.Select(c => c.Name))}) select {key}, {string.Join(", ", sums)} from {schema}.{from} {where} group by {key}";
    }
}
