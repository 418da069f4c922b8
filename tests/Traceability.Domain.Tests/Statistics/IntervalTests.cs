using System.Globalization;
using CsCheck;
using MathNet.Numerics.Distributions;
using Traceability.Domain.Statistics;
using Xunit;

namespace Traceability.Domain.Tests.Statistics;

public sealed class IntervalTests
{
    public static TheoryData<long, long, double, double[]> Proportions()
    {
        var rows = new TheoryData<long, long, double, double[]>();
        foreach (var row in Vector("proportion-intervals.csv"))
        {
            rows.Add((long)row[0], (long)row[1], row[2], row[3..]);
        }

        return rows;
    }

    public static TheoryData<long, double, double, double> Counts()
    {
        var rows = new TheoryData<long, double, double, double>();
        foreach (var row in Vector("poisson-intervals.csv"))
        {
            rows.Add((long)row[0], row[1], row[2], row[3]);
        }

        return rows;
    }

    // R 4.2.2, prop.test(correct = FALSE) and binom.test; see Vectors/README.md.
    [Theory]
    [MemberData(nameof(Proportions))]
    public void Intervals_of_a_proportion_equal_those_of_the_reference(long count, long total, double confidence, double[] expected)
    {
        var wilson = ProportionInterval.Wilson(count, total, confidence)!.Value;
        var exact = ProportionInterval.ClopperPearson(count, total, confidence)!.Value;

        AssertClose(expected[0], wilson.Lower, 1e-12);
        AssertClose(expected[1], wilson.Upper, 1e-12);
        AssertClose(expected[2], exact.Lower, 1e-11);
        AssertClose(expected[3], exact.Upper, 1e-11);
    }

    // R 4.2.2, poisson.test; see Vectors/README.md.
    [Theory]
    [MemberData(nameof(Counts))]
    public void The_interval_of_a_count_equals_that_of_the_reference(long count, double confidence, double lower, double upper)
    {
        var interval = PoissonInterval.Exact(count, confidence);

        AssertClose(lower, interval.Lower, 1e-10);
        AssertClose(upper, interval.Upper, 1e-10);
    }

    // NIST/SEMATECH e-Handbook, section 7.2.4.1: 26 of 200, one-sided 95 % lower limit (the lower end at 90 %); 4 of 20, exact 90 %.
    [Fact]
    public void The_handbook_examples_come_out_as_printed()
    {
        Assert.Equal(0.09577, ProportionInterval.Wilson(26, 200, 0.90)!.Value.Lower, 5);
        Assert.Equal(0.071354, ProportionInterval.ClopperPearson(4, 20, 0.90)!.Value.Lower, 6);
        // Printed as .401029; R and this service have .4010281.
        Assert.Equal(0.401029, ProportionInterval.ClopperPearson(4, 20, 0.90)!.Value.Upper, 5);
    }

    // NIST/SEMATECH e-Handbook, section 1.3.6.7.1 (table of the normal distribution), and the usual 6 and 10 digit values (from memory).
    [Theory]
    [InlineData(0.975, 1.959963984540054), InlineData(0.95, 1.644853626951473), InlineData(0.995, 2.575829303548901), InlineData(0.5, 0), InlineData(0.025, -1.959963984540054)]
    public void Normal_quantiles_equal_the_tables(double probability, double expected) =>
        Assert.Equal(expected, NormalDistribution.Quantile(probability), 13);

    [Fact]
    public void The_default_confidence_is_95_percent()
    {
        Assert.Equal(1.959963984540054, NormalDistribution.TwoSidedFactor(ConfidenceInterval.DefaultConfidence), 13);
        AssertClose(ProportionInterval.Wilson(26, 200, 0.95 + 1e-15)!.Value.Lower, ProportionInterval.Wilson(26, 200)!.Value.Lower, 1e-12);
    }

    [Fact]
    public void Nothing_of_nothing_has_no_interval()
    {
        Assert.Null(ProportionInterval.Wilson(0, 0));
        Assert.Null(ProportionInterval.ClopperPearson(0, 0));
    }

    [Theory]
    [InlineData(-1, 5, 0.95), InlineData(6, 5, 0.95), InlineData(0, -1, 0.95), InlineData(1, 5, 0), InlineData(1, 5, 1), InlineData(1, 5, double.NaN)]
    public void Impossible_counts_and_confidences_are_refused(long count, long total, double confidence)
    {
        Assert.Throws<ArgumentOutOfRangeException>(() => ProportionInterval.Wilson(count, total, confidence));
        Assert.Throws<ArgumentOutOfRangeException>(() => ProportionInterval.ClopperPearson(count, total, confidence));
    }

    [Fact]
    public void A_negative_count_has_no_poisson_interval()
    {
        Assert.Throws<ArgumentOutOfRangeException>(() => PoissonInterval.Exact(-1));
        Assert.Throws<ArgumentOutOfRangeException>(() => PoissonInterval.Exact(1, 1));
        Assert.Throws<ArgumentOutOfRangeException>(() => NormalDistribution.Quantile(0));
    }

    // The defining equations, by the distribution functions rather than by their quantiles.
    [Fact]
    public void Exact_limits_solve_their_defining_equations_for_small_and_large_totals()
    {
        var totals = Gen.OneOf(Gen.Int[1, 50], Gen.Int[1, 1_000_000]);
        totals.SelectMany(n => Gen.OneOf(Gen.Int[0, Math.Min(3, n)], Gen.Int[0, n]).Select(x => (x, n))).Sample((x, n) =>
        {
            var exact = ProportionInterval.ClopperPearson(x, n)!.Value;
            var poisson = PoissonInterval.Exact(x);

            AssertClose(x == 0 ? 0 : 0.025, x == 0 ? exact.Lower : 1 - Binomial.CDF(exact.Lower, n, x - 1), 1e-6);
            AssertClose(x == n ? 1 : 0.025, x == n ? exact.Upper : Binomial.CDF(exact.Upper, n, x), 1e-6);
            AssertClose(0.025, Poisson.CDF(poisson.Upper, x), 1e-6);
            AssertClose(x == 0 ? 0 : 0.025, x == 0 ? poisson.Lower : 1 - Poisson.CDF(poisson.Lower, x - 1), 1e-6);
        }, iter: 2_000);
    }

    [Fact]
    public void A_Wilson_interval_holds_its_estimate_and_mirrors_its_complement()
    {
        var totals = Gen.Int[1, 1_000_000];
        totals.SelectMany(n => Gen.OneOf(Gen.OneOf(0, 1, n - 1, n).Where(x => x >= 0), Gen.Int[0, n]).Select(x => (x, n))).Sample((x, n) =>
        {
            var interval = ProportionInterval.Wilson(x, n)!.Value;
            var complement = ProportionInterval.Wilson(n - x, n)!.Value;

            Assert.True(interval.Contains((double)x / n));
            Assert.InRange(interval.Lower, 0, 1);
            Assert.InRange(interval.Upper, 0, 1);
            Assert.Equal(1 - interval.Lower, complement.Upper, 5e-15);
        }, iter: 2_000);
    }

    private static IEnumerable<double[]> Vector(string file) =>
        File.ReadAllLines(Path.Combine(AppContext.BaseDirectory, "Vectors", file))
            .Skip(1)
            .Select(line => line.Split(',').Select(cell => double.Parse(cell, CultureInfo.InvariantCulture)).ToArray());

    private static void AssertClose(double expected, double actual, double relative) =>
        Assert.True(Math.Abs(expected - actual) <= (Math.Abs(expected) * relative) + 1e-15, FormattableString.Invariant($"{actual:R} is not {expected:R}"));
}
