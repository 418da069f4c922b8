using CsCheck;
using MathNet.Numerics.Distributions;
using Traceability.Domain.Statistics;
using Traceability.Domain.Yield;
using Xunit;

namespace Traceability.Domain.Tests.Yield;

public sealed class YieldTests
{
    private static readonly Gen<YieldCounter> Counter =
        Gen.Select(Gen.Long[-1000, 1000], Gen.Long[-1000, 1000], Gen.Long[-1000, 1000], Gen.Long[-1000, 1000], Gen.Long[-1000, 1000]).Select((a, b, c, d, e) => new YieldCounter
        {
            FirstAttempts = a, FirstPassed = b, Attempts = c, ReworkedUnits = d, Reworks = e, Retests = a - b, Scrapped = b - c, Defects = c - d, Opportunities = d - e,
        });

    // ISO 13053-1, rolled throughput yield (from memory): .98 · 95/98 · 93/95 = .93.
    [Fact]
    public void Rolled_throughput_yield_is_the_product_of_the_step_yields()
    {
        var rolled = RolledThroughputYield.Of([new(98, 100), new(95, 98), new(93, 95)]);

        Assert.Equal(0.93, rolled.Estimate!.Value, 12);
        Assert.Equal(new Proportion[] { new(98, 100), new(95, 98), new(93, 95) }, rolled.Steps.ToArray());
        Assert.True(rolled.Interval!.Value.Contains(0.93));
    }

    [Fact]
    public void A_rolled_yield_is_undefined_while_a_step_is_or_without_steps()
    {
        Assert.Null(RolledThroughputYield.Of([]).Estimate);
        var open = RolledThroughputYield.Of([new(98, 100), new(0, 0)]);
        Assert.Null(open.Estimate);
        Assert.Null(open.Interval);
        Assert.Equal(2, open.Steps.Length);
    }

    [Fact]
    public void A_rolled_yield_of_one_step_has_that_steps_Wilson_interval()
    {
        var totals = Gen.Int[1, 10_000];
        totals.SelectMany(n => Gen.OneOf(Gen.OneOf(0, n), Gen.Int[0, n]).Select(x => (x, n))).Sample((x, n) =>
        {
            var rolled = RolledThroughputYield.Of([new(x, n)]).Interval!.Value;
            var wilson = ProportionInterval.Wilson(x, n)!.Value;
            Assert.Equal(wilson.Lower, rolled.Lower, 5e-13);
            Assert.Equal(wilson.Upper, rolled.Upper, 5e-13);
        }, iter: 2_000);
    }

    [Fact]
    public void A_step_that_never_passes_makes_the_rolled_yield_zero_with_an_upper_limit()
    {
        var rolled = RolledThroughputYield.Of([new(0, 10), new(98, 100)]);

        Assert.Equal(0, rolled.Estimate);
        Assert.Equal(0, rolled.Interval!.Value.Lower);
        Assert.InRange(rolled.Interval.Value.Upper, 0.2, ProportionInterval.Wilson(0, 10)!.Value.Upper + 0.01);
    }

    // No published figures at hand: the interval is checked by what it promises. Its coverage is summed exactly over
    // every outcome of three steps, weighted with its binomial probability.
    [Theory]
    [InlineData(40, 0.6, 0.8, 0.7), InlineData(40, 0.9, 0.95, 0.98), InlineData(60, 0.99, 0.97, 0.995), InlineData(20, 0.5, 0.9, 0.99), InlineData(30, 0.99, 0.99, 0.99)]
    public void The_rolled_interval_holds_the_truth_about_as_often_as_it_says(int units, double first, double second, double third)
    {
        var truth = first * second * third;
        var coverage = 0.0;
        for (var a = 0; a <= units; a++)
        {
            for (var b = 0; b <= units; b++)
            {
                for (var c = 0; c <= units; c++)
                {
                    var weight = Binomial.PMF(first, units, a) * Binomial.PMF(second, units, b) * Binomial.PMF(third, units, c);
                    if (weight > 1e-12 && RolledThroughputYield.Of([new(a, units), new(b, units), new(c, units)]).Interval!.Value.Contains(truth))
                    {
                        coverage += weight;
                    }
                }
            }
        }

        Assert.InRange(coverage, 0.93, 0.965);
    }

    [Fact]
    public void A_zero_denominator_is_undefined_and_not_zero()
    {
        // ISO 22400-2: a ratio with a zero denominator is not defined.
        var nothing = YieldCounter.Zero;

        Assert.False(nothing.FirstPassYield.IsDefined);
        Assert.Null(nothing.FirstPassYield.Estimate);
        Assert.Null(nothing.FirstPassYield.Lower);
        Assert.Null(nothing.FirstPassYield.Upper);
        Assert.Null(nothing.DefectsPerUnit.Estimate);
        Assert.Null(nothing.DefectsPerMillionOpportunities.Interval);
        Assert.Equal("0 of 0 (undefined)", default(Proportion).ToString());
    }

    [Fact]
    public void The_ratios_of_a_cell_come_from_its_counts()
    {
        // 100 units; 90 pass first; 8 reworked once or twice (10 attempts), 1 retested, 2 scrapped; 12 defects in 5 checks each.
        var cell = new YieldCounter
        {
            FirstAttempts = 100, FirstPassed = 90, Attempts = 111, ReworkedUnits = 8, Reworks = 10, Retests = 1, Scrapped = 2, Defects = 12, Opportunities = 500,
        };

        Assert.True(cell.IsConsistent);
        Assert.Equal(0.90, cell.FirstPassYield.Estimate);
        Assert.Equal(0.08, cell.ReworkRatio.Estimate);
        Assert.Equal(0.02, cell.ScrapRatio.Estimate);
        Assert.Equal(0.12, cell.DefectsPerUnit.Estimate);
        Assert.Equal(24_000, cell.DefectsPerMillionOpportunities.Estimate);

        // R 4.2.2, poisson.test(10): 4.7953887, 18.3903560; per million of 500.
        var tenDefects = (cell with { Defects = 10 }).DefectsPerMillionOpportunities.Interval!.Value;
        Assert.Equal(4.79538869613243 / 500 * 1e6, tenDefects.Lower, 5);
        Assert.Equal(18.3903560420178 / 500 * 1e6, tenDefects.Upper, 5);

        // R 4.2.2, prop.test(26, 200, correct = FALSE).
        var shown = new Proportion(26, 200);
        Assert.Equal(0.0902820227966932, shown.Lower!.Value, 12);
        Assert.Equal(0.183663518722484, shown.Upper!.Value, 12);
    }

    // Counted by hand: two attempts of five were reworks; three defects in five attempts. ISO 13053-1 counts units where
    // DefectsPerAttempt counts attempts, so there is no published figure to compare with.
    [Fact]
    public void Cells_of_attempts_have_their_own_ratios()
    {
        var cell = new YieldCounter { Attempts = 5, Reworks = 2, Retests = 3, Defects = 3 };

        Assert.Equal(new Proportion(2, 5), cell.ReworkedAttempts);
        Assert.Equal(0.6, cell.DefectsPerAttempt.Estimate);
        Assert.False(cell.FirstPassYield.IsDefined);
        Assert.Null(YieldCounter.Zero.ReworkedAttempts.Estimate);
        Assert.Null(YieldCounter.Zero.DefectsPerAttempt.Estimate);
    }

    [Fact]
    public void Counters_that_cannot_be_a_total_say_so_and_give_no_ratio()
    {
        var difference = new YieldCounter { FirstPassed = -1 };

        Assert.False(difference.IsConsistent);
        Assert.Throws<ArgumentOutOfRangeException>(() => difference.FirstPassYield);
        Assert.False(new YieldCounter { FirstAttempts = 1, Attempts = 1, FirstPassed = 2 }.IsConsistent);
        Assert.False(new YieldCounter { FirstAttempts = 1, Attempts = 3, Reworks = 1 }.IsConsistent);
        Assert.Throws<ArgumentOutOfRangeException>(() => new EventRate(1, 0));
        Assert.Throws<ArgumentOutOfRangeException>(() => new Proportion(0, -1));
    }

    [Fact]
    public void Moving_a_counter_by_a_difference_and_back_leaves_it_as_it_was() =>
        Gen.Select(Counter, Counter, Counter).Sample((total, before, after) =>
        {
            Assert.Equal(total, total + (after - before) - (after - before));
            Assert.Equal(total + before, before + total);
            Assert.Equal((total + before) + after, total + (before + after));
            Assert.Equal(total, total + YieldCounter.Zero);
            Assert.Equal(after, before + (after - before));
        }, iter: 2_000);

    [Fact]
    public void Every_count_takes_part_in_sum_and_difference()
    {
        // Reflection, so that a count added later cannot be forgotten in an operator.
        var counts = typeof(YieldCounter).GetProperties().Where(p => p.PropertyType == typeof(long)).ToList();
        Assert.Equal(9, counts.Count);
        foreach (var count in counts)
        {
            object boxed = YieldCounter.Zero;
            count.SetValue(boxed, 3L);
            var three = (YieldCounter)boxed;
            Assert.Equal(6L, count.GetValue(three + three));
            Assert.Equal(-3L, count.GetValue(YieldCounter.Zero - three));
        }
    }

    [Fact]
    public void A_count_beyond_64_bits_is_an_overflow_and_never_a_wrong_number() =>
        Assert.Throws<OverflowException>(() => new YieldCounter { Defects = long.MaxValue } + new YieldCounter { Defects = 1 });
}
