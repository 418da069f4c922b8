using System.Globalization;
using CsCheck;
using MathNet.Numerics.Distributions;
using Traceability.Domain.Statistics;
using Xunit;

namespace Traceability.Domain.Tests.Statistics;

public sealed class FishersExactTestTests
{
    public static TheoryData<int, int, int, int, double[]> Tables()
    {
        var rows = new TheoryData<int, int, int, int, double[]>();
        foreach (var line in File.ReadAllLines(Path.Combine(AppContext.BaseDirectory, "Vectors", "fisher-exact.csv")).Skip(1))
        {
            var row = line.Replace("\"", string.Empty, StringComparison.Ordinal).Split(',').Select(Number).ToArray();
            rows.Add((int)row[0], (int)row[1], (int)row[2], (int)row[3], row[4..]);
        }

        return rows;
    }

    // R 4.2.2, fisher.test; see Vectors/README.md. R solves for an odds ratio, or for its reciprocal above 1, to within 1.3e-4 only (uniroot's tolerance).
    [Theory]
    [MemberData(nameof(Tables))]
    public void A_table_is_judged_as_by_the_reference(int a, int b, int c, int d, double[] expected)
    {
        var table = new TwoByTwo(a, b, c, d);

        AssertClose(expected[0], FishersExactTest.TwoSided(table), 1e-10);
        AssertClose(expected[1], FishersExactTest.Less(table), 1e-10);
        AssertClose(expected[2], FishersExactTest.Greater(table), 1e-10);
        if (!table.Varies)
        {
            Assert.Null(FishersExactTest.OddsRatio(table));
            Assert.Null(FishersExactTest.Interval(table));
            return;
        }

        AssertWithinReach(expected[3], FishersExactTest.OddsRatio(table)!.Value);
        AssertWithinReach(expected[4], FishersExactTest.Interval(table)!.Value.Lower);
        AssertWithinReach(expected[5], FishersExactTest.Interval(table)!.Value.Upper);
    }

    // R. A. Fisher, The Design of Experiments (1935), chapter II: the lady tasting tea, all four cups right 1/70, three or more 17/70.
    [Fact]
    public void The_tea_tasting_comes_out_as_printed()
    {
        Assert.Equal(1.0 / 70, FishersExactTest.Greater(new(4, 0, 0, 4)), 14);
        Assert.Equal(17.0 / 70, FishersExactTest.Greater(new(3, 1, 1, 3)), 14);
    }

    // Worked by the hypergeometric formula: 5 of 6 failures among 30 of 120 units.
    [Fact]
    public void Five_of_six_failures_in_a_quarter_of_the_units_is_rare()
    {
        var p = FishersExactTest.Greater(new(5, 1, 25, 89));

        Assert.Equal(0.0037, p, 4);
        Assert.Equal(0.147, p * 40, 3);
    }

    [Fact]
    public void Nothing_is_told_by_a_table_in_which_nothing_varies()
    {
        foreach (var table in new TwoByTwo[] { new(3, 0, 5, 0), new(0, 3, 0, 5), new(0, 0, 2, 5), new(2, 5, 0, 0), default })
        {
            Assert.Equal(1, FishersExactTest.TwoSided(table));
            Assert.Null(FishersExactTest.OddsRatio(table));
            Assert.Null(FishersExactTest.Interval(table));
        }
    }

    [Fact]
    public void Impossible_numbers_are_refused()
    {
        Assert.Throws<ArgumentOutOfRangeException>(() => FishersExactTest.TwoSided(new(-1, 1, 1, 1)));
        Assert.Throws<ArgumentOutOfRangeException>(() => FishersExactTest.Interval(new(1, 1, 1, 1), 1));
        Assert.Throws<ArgumentOutOfRangeException>(() => FishersExactTest.Power(0, 5, 0.5, 0.5, 0.05));
        Assert.Throws<ArgumentOutOfRangeException>(() => FishersExactTest.Power(5, 5, 1.1, 0.5, 0.05));
    }

    // The library's own hypergeometric distribution, summed by the definition of the test.
    [Fact]
    public void P_is_the_sum_over_the_tables_that_are_no_likelier() =>
        Gen.Select(Gen.Int[0, 30], Gen.Int[0, 30], Gen.Int[0, 60], Gen.Int[0, 60]).Sample((a, b, c, d) =>
        {
            var table = new TwoByTwo(a, b, c, d);
            if (!table.Varies)
            {
                return;
            }

            var distribution = new Hypergeometric(table.Total, table.With, table.Cases);
            var seen = distribution.Probability(a);
            var all = Enumerable.Range(0, table.Cases + 1).Select(distribution.Probability).Where(p => p <= seen * (1 + 1e-7)).Sum();

            AssertClose(Math.Min(1, all), FishersExactTest.TwoSided(table), 1e-9);
        });

    // The defining equations of the interval and the estimate, by a direct sum over the tables.
    [Fact]
    public void The_odds_ratio_and_its_limits_solve_their_equations() =>
        Gen.Select(Gen.Int[0, 12], Gen.Int[0, 12], Gen.Int[0, 25], Gen.Int[0, 25]).Sample((a, b, c, d) =>
        {
            var table = new TwoByTwo(a, b, c, d);
            if (!table.Varies)
            {
                return;
            }

            var interval = FishersExactTest.Interval(table)!.Value;
            var odds = FishersExactTest.OddsRatio(table)!.Value;
            var least = Math.Max(0, table.With - table.Others);
            var most = Math.Min(table.With, table.Cases);

            Assert.True(interval.Contains(odds));
            Assert.Equal(a == least, interval.Lower == 0);
            Assert.Equal(a == most, double.IsPositiveInfinity(interval.Upper));
            if (a > least)
            {
                AssertClose(0.025, Weights(table, interval.Lower).Where(w => w.X >= a).Sum(w => w.P), 1e-8);
            }

            if (a < most)
            {
                AssertClose(0.025, Weights(table, interval.Upper).Where(w => w.X <= a).Sum(w => w.P), 1e-8);
            }

            if (a > least && a < most)
            {
                AssertClose(a, Weights(table, odds).Sum(w => w.X * w.P), 1e-8);
            }
        });

    // By trying every pair of samples, without the margins.
    [Fact]
    public void Power_is_the_chance_of_a_table_that_is_rejected() =>
        Gen.Select(Gen.Int[1, 8], Gen.Int[1, 12], Gen.Double[0, 1], Gen.Double[0, 1], Gen.Double[0.001, 0.2]).Sample((cases, others, p, q, level) =>
        {
            var chance = 0.0;
            for (var x = 0; x <= cases; x++)
            {
                for (var y = 0; y <= others; y++)
                {
                    if (FishersExactTest.TwoSided(new(x, cases - x, y, others - y)) <= level)
                    {
                        chance += new Binomial(p, cases).Probability(x) * new Binomial(q, others).Probability(y);
                    }
                }
            }

            Assert.Equal(chance, FishersExactTest.Power(cases, others, p, q, level), 10);
        });

    // R 4.2.2, p.adjust(method = "BH"), from the check values of the ten p of Benjamini and Hochberg's procedure as commonly taught.
    [Fact]
    public void Adjusted_values_equal_the_reference()
    {
        double[] p = [0.001, 0.008, 0.039, 0.041, 0.042, 0.06, 0.074, 0.205, 0.212, 0.216];
        double[] expected = [0.01, 0.04, 0.084, 0.084, 0.084, 0.1, 0.1057, 0.216, 0.216, 0.216];

        Assert.Equal(expected, BenjaminiHochberg.Adjust(p).Select(a => Math.Round(a, 4)));
        Assert.Equal(expected.Reverse(), BenjaminiHochberg.Adjust([.. p.Reverse()]).Select(a => Math.Round(a, 4)));
        Assert.Empty(BenjaminiHochberg.Adjust([]));
        Assert.Throws<ArgumentOutOfRangeException>(() => BenjaminiHochberg.Adjust([double.NaN]));
    }

    private static (int X, double P)[] Weights(TwoByTwo table, double odds)
    {
        var least = Math.Max(0, table.With - table.Others);
        var weights = Enumerable.Range(least, Math.Min(table.With, table.Cases) - least + 1)
            .Select(x => (X: x, P: Choose(table.Cases, x) * Choose(table.Others, table.With - x) * Math.Pow(odds, x))).ToArray();
        var sum = weights.Sum(w => w.P);
        return [.. weights.Select(w => (w.X, w.P / sum))];
    }

    private static double Choose(int n, int k)
    {
        var ways = 1.0;
        for (var i = 1; i <= k; i++)
        {
            ways *= (n - k + i) / (double)i;
        }

        return ways;
    }

    private static double Number(string cell) =>
        cell switch
        {
            "Infinity" => double.PositiveInfinity,
            _ => double.Parse(cell, CultureInfo.InvariantCulture),
        };

    private static void AssertWithinReach(double expected, double actual)
    {
        var (wanted, found) = expected > 1 ? (1 / expected, 1 / actual) : (expected, actual);
        Assert.Equal(wanted, found, 1.3e-4);
        Assert.Equal(double.IsPositiveInfinity(expected), double.IsPositiveInfinity(actual));
    }

    private static void AssertClose(double expected, double actual, double relative) =>
        Assert.True(
            expected.Equals(actual) || Math.Abs(expected - actual) <= (Math.Abs(expected) * relative) + 1e-15,
            FormattableString.Invariant($"{actual:R} is not {expected:R}"));
}
