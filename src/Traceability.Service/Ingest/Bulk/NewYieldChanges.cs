using Npgsql;

namespace Traceability.Service.Ingest.Bulk;

/// <summary>What new result rows add to the yield counters: one difference for each counter, summed before it is written.</summary>
/// <remarks>The counts are those of <see cref="YieldChanges"/>, which sums rows that the tables hold already.</remarks>
internal static class NewYieldChanges
{
    private sealed record StepCounter(string Item, string Variant, string Revision, string Step, string Station, DateOnly Day);

    private sealed record UnitCounter(string Item, string Variant, string Revision, DateOnly Day);

    private sealed class Counts
    {
        public int FirstAttempts { get; set; }

        public int FirstPassed { get; set; }

        public int Attempts { get; set; }

        public int Reworks { get; set; }

        public int Retests { get; set; }

        public int Defects { get; set; }

        public int Opportunities { get; set; }
    }

    private sealed class Ends
    {
        public int Ended { get; set; }

        public int Passed { get; set; }

        public int Scrapped { get; set; }
    }

    private static readonly CopyTable<KeyValuePair<StepCounter, Counts>> Steps = new CopyTable<KeyValuePair<StepCounter, Counts>>("step_yield_change")
        .Text("item", c => c.Key.Item)
        .Text("variant", c => c.Key.Variant)
        .Text("revision", c => c.Key.Revision)
        .Text("step", c => c.Key.Step)
        .Text("station", c => c.Key.Station)
        .Date("day", c => c.Key.Day)
        .Integer("first_attempts", c => c.Value.FirstAttempts)
        .Integer("first_passed", c => c.Value.FirstPassed)
        .Integer("attempts", c => c.Value.Attempts)
        .Integer("reworks", c => c.Value.Reworks)
        .Integer("retests", c => c.Value.Retests)
        .Integer("defects", c => c.Value.Defects)
        .Integer("opportunities", c => c.Value.Opportunities);

    private static readonly CopyTable<KeyValuePair<UnitCounter, Ends>> Units = new CopyTable<KeyValuePair<UnitCounter, Ends>>("unit_yield_change")
        .Text("item", c => c.Key.Item)
        .Text("variant", c => c.Key.Variant)
        .Text("revision", c => c.Key.Revision)
        .Date("day", c => c.Key.Day)
        .Integer("ended", c => c.Value.Ended)
        .Integer("passed", c => c.Value.Passed)
        .Integer("scrapped", c => c.Value.Scrapped);

    /// <summary>Writes what the rows add that are not stored yet. Blocks the thread.</summary>
    public static void Write(NpgsqlConnection connection, string schema, IReadOnlyCollection<BulkUnit> units)
    {
        Steps.Write(connection, schema, StepsOf(units));
        Units.Write(connection, schema, UnitsOf(units));
    }

    private static Dictionary<StepCounter, Counts> StepsOf(IReadOnlyCollection<BulkUnit> units)
    {
        var sums = new Dictionary<StepCounter, Counts>();
        foreach (var row in UnitTables.New(units, UnitTable.StepResult, r => r.StepResults))
        {
            var result = row.Value;
            var counter = new StepCounter(
                row.Item, row.Status.Variant?.Value ?? string.Empty, result.Revision?.Value ?? string.Empty, result.Step.Value, result.Station?.Value ?? string.Empty, result.Day);
            if (!sums.TryGetValue(counter, out var counts))
            {
                sums[counter] = counts = new();
            }

            // A repeat without rework is a retest; the two are counted apart.
            counts.FirstAttempts += result.Attempt == 1 ? 1 : 0;
            counts.FirstPassed += result is { Attempt: 1, Passed: true, IsRework: false } ? 1 : 0;
            counts.Attempts++;
            counts.Reworks += result.IsRework ? 1 : 0;
            counts.Retests += result is { Attempt: > 1, IsRework: false } ? 1 : 0;
            counts.Defects += result.Defects;
            counts.Opportunities += result.Opportunities;
        }

        return sums;
    }

    private static Dictionary<UnitCounter, Ends> UnitsOf(IReadOnlyCollection<BulkUnit> units)
    {
        var sums = new Dictionary<UnitCounter, Ends>();
        foreach (var row in UnitTables.New(units, UnitTable.UnitResult, r => r.UnitResults))
        {
            var counter = new UnitCounter(row.Item, row.Status.Variant?.Value ?? string.Empty, row.Status.Revision?.Value ?? string.Empty, row.Value.Day);
            if (!sums.TryGetValue(counter, out var ends))
            {
                sums[counter] = ends = new();
            }

            ends.Ended++;
            ends.Passed += row.Value.Passed ? 1 : 0;
            ends.Scrapped += row.Value.IsScrapped ? 1 : 0;
        }

        return sums;
    }
}
