using CsCheck;
using Traceability.Domain.SharedFactors;
using Traceability.Domain.Statistics;
using Xunit;

namespace Traceability.Domain.Tests.SharedFactors;

public sealed class SharedFactorSearchTests
{
    private static readonly IReadOnlySet<(FactorKind, string)> Nothing = new HashSet<(FactorKind, string)>();

    [Fact]
    public void The_lot_behind_the_failures_comes_first_and_is_called_significant()
    {
        List<UnitFactors> units = [];
        for (var i = 0; i < 120; i++)
        {
            var isCase = i < 8;
            units.Add(Unit(i, isCase, Lot(isCase || i % 10 == 0 ? "BAD" : "GOOD"), Station($"ST-{i % 3}")));
        }

        var answer = SharedFactorSearch.Run(units);

        Assert.Equal(5, answer.Tried);
        Assert.Equal("BAD", answer.Groups[0].Factors[0].Name);
        Assert.True(answer.Groups[0].IsSignificant);
        Assert.Equal(new TwoByTwo(8, 0, 11, 101), answer.Groups[0].Table);
        Assert.True(double.IsPositiveInfinity(answer.Groups[0].OddsRatio!.Value));

        // What the failed units have less often is as rare, and no suspect.
        var good = Assert.Single(answer.Groups, g => g.Factors[0].Name == "GOOD");
        Assert.Equal(answer.Groups[0].P, good.P, 12);
        Assert.False(good.IsSignificant);
        Assert.False(answer.Power.IsTooSmall);
    }

    [Fact]
    public void Factors_that_the_same_units_have_are_one_group()
    {
        List<UnitFactors> units = [];
        for (var i = 0; i < 40; i++)
        {
            var isCase = i < 6;
            units.Add(Unit(i, isCase, isCase ? [Lot("A"), Person("P-1"), Station("ST-1")] : [Lot("B"), Person(i % 2 == 0 ? "P-1" : "P-2"), Station("ST-2")]));
        }

        var answer = SharedFactorSearch.Run(units);

        Assert.Equal(["A", "ST-1"], answer.Groups[0].Factors.Select(f => f.Name));
        Assert.Equal(6, answer.Tried);
        Assert.Equal(4, answer.Groups.Length);
        Assert.Equal(["B", "ST-2"], Assert.Single(answer.Groups, g => g.Factors[0].Name == "B").Factors.Select(f => f.Name));
    }

    [Fact]
    public void A_unit_whose_record_is_missing_counts_neither_way()
    {
        List<UnitFactors> units =
        [
            Unit(0, true, Lot("BAD")),
            Unit(1, true, Lot("BAD")),
            new("U/2", true, [], new HashSet<(FactorKind, string)> { (FactorKind.Lot, "GLUE") }),
            Unit(3, false, Lot("GOOD")),
            Unit(4, false, Lot("GOOD")),
            new("U/5", false, [Lot("GOOD")], new HashSet<(FactorKind, string)> { (FactorKind.Lot, "GLUE") }),
        ];

        var bad = Assert.Single(SharedFactorSearch.Run(units).Groups, g => g.Factors[0].Name == "BAD");

        Assert.Equal(new TwoByTwo(2, 0, 0, 2), bad.Table);
        Assert.Equal(1, bad.CasesOpen);
        Assert.Equal(1, bad.OthersOpen);
    }

    [Fact]
    public void Three_failures_are_too_few_to_find_anything_among_many_factors()
    {
        List<UnitFactors> units = [];
        for (var i = 0; i < 20; i++)
        {
            units.Add(Unit(i, i < 3, [.. Enumerable.Range(0, 40).Select(f => Lot($"L{f}-{(i + f) % 3}"))]));
        }

        var answer = SharedFactorSearch.Run(units);

        Assert.Equal(120, answer.Tried);

        // C(20, 3) = 1,140 ways; one of them, times 120 factors tried.
        Assert.Equal(120.0 / 1_140, answer.Power.LeastAdjusted, 12);
        Assert.Equal(0, answer.Power.Chance);
        Assert.True(answer.Power.IsTooSmall);
        Assert.DoesNotContain(answer.Groups, g => g.IsSignificant);
    }

    [Fact]
    public void Without_failures_or_comparison_nothing_is_found()
    {
        Assert.Empty(SharedFactorSearch.Run([]).Groups);
        Assert.All(SharedFactorSearch.Run([Unit(0, true, Lot("A"))]).Groups, g => Assert.Equal(1, g.P));
        Assert.True(SharedFactorSearch.Run([Unit(0, false, Lot("A"))]).Power.IsTooSmall);
    }

    // In a history with no cause: over many searches, the share that calls anything significant stays at the error rate
    // (Benjamini and Hochberg, 1995: with no cause at all, that share is the false discovery rate). Seeded; the bound leaves four
    // standard deviations of a share of 5 % over 1,000 searches.
    [Fact]
    public void Where_there_is_no_cause_a_search_errs_no_more_often_than_stated()
    {
        var pcg = new PCG(1, 20260301);
        var found = 0;
        const int Searches = 1_000;
        for (var s = 0; s < Searches; s++)
        {
            var failed = Enumerable.Range(0, 80).OrderBy(_ => pcg.Next64()).Take(10).ToHashSet();
            var units = Enumerable.Range(0, 80).Select(i => Unit(
                i, failed.Contains(i), [.. Enumerable.Range(0, 12).Select(f => new FactorKey(FactorKind.Lot, $"{f}-{pcg.Next(3)}", $"{f}"))])).ToList();
            found += SharedFactorSearch.Run(units).Groups.Any(g => g.IsSignificant) ? 1 : 0;
        }

        Assert.InRange(found / (double)Searches, 0, 0.05 + (4 * Math.Sqrt(0.05 * 0.95 / Searches)));
    }

    [Fact]
    public void The_answer_does_not_depend_on_the_order_of_the_units() =>
        Gen.Int[0, 3].Array[5, 30]
            .Select(kinds => kinds.Select((k, i) => Unit(i, k == 0 || i % 7 == 0, Lot($"L{k}"), Station($"ST-{(i + k) % 4}"))).ToArray())
            .SelectMany(units => Gen.Shuffle(units.ToArray()).Select(shuffled => (units, shuffled)))
            .Sample((units, shuffled) => Assert.Equal(Say(SharedFactorSearch.Run(units)), Say(SharedFactorSearch.Run(shuffled))));

    private static string Say(SharedFactorAnswer answer) =>
        string.Join("; ", answer.Groups.Select(g => $"{string.Join('+', g.Factors.Select(f => f.Name))} {g.Table} {g.P} {g.Adjusted}"));

    private static UnitFactors Unit(int number, bool isCase, params FactorKey[] has) => new($"U/{number}", isCase, has, Nothing);

    private static FactorKey Lot(string name) => new(FactorKind.Lot, name, "GLUE");

    private static FactorKey Station(string name) => new(FactorKind.Station, name, "U/BOND");

    private static FactorKey Person(string name) => new(FactorKind.Person, name, "U/BOND");
}
