using System.Collections.Immutable;
using CsCheck;
using MathNet.Numerics.Integration;
using Traceability.Domain.Cure;
using Traceability.Domain.Facts;
using Traceability.Testing.Building;
using Xunit;

namespace Traceability.Domain.Tests.Cure;

public sealed class CureDoseTests
{
    private const double Zero = 273.15;
    private static readonly TimeSpan Gap = TimeSpan.FromMinutes(30);

    // Invented for these tests: 60 min at 15 °C, 20 min at 25 °C, 8 min at 40 °C.
    private static readonly CureCurve Curve = Of((15, 60), (25, 20), (40, 8));

    private static CureCurve Of(params (decimal Celsius, double Minutes)[] rows) =>
        CureCurve.Of(Some.CureTable([.. rows.Select(r => (r.Celsius, (double?)null, (double?)r.Minutes))]), CureState.Full)!;

    private static ImmutableArray<TemperaturePoint> Points(params (double Minutes, decimal Celsius)[] readings) =>
        TemperatureDay.Of([.. readings.Select((r, i) => new RecordedFact(Some.Id(i), Some.Temperature("ST-1", r.Minutes, r.Celsius), Some.Noon))]).Points;

    private static CureDose Over(ImmutableArray<TemperaturePoint> points, double from, double to, CureCurve? curve = null) =>
        CureDose.Over(curve ?? Curve, points.AsSpan(), Gap, Some.At(from), Some.At(to));

    // Closed form: at a constant temperature of a row the dose is elapsed / time of the row.
    [Theory]
    [InlineData(15, 60)]
    [InlineData(25, 20)]
    [InlineData(40, 8)]
    public void At_a_constant_temperature_the_dose_is_the_elapsed_time_by_that_of_the_row(int celsius, double minutes)
    {
        var points = Points([.. Enumerable.Range(0, 7).Select(i => (i * 20.0, (decimal)celsius))]);
        Assert.Equal(0.25, Over(points, 0, minutes / 4).Earned, 12);
        var whole = Over(points, 0, minutes);
        Assert.Equal(1, whole.Earned, 12);
        Assert.Equal(whole.Earned, whole.Possible);
        Assert.InRange((whole.ReachedAt!.Value - Some.At(minutes)).TotalMilliseconds, -0.01, 0.01);
        Assert.Null(Over(points, 0, minutes - 0.001).ReachedAt);
    }

    // The Arrhenius equation in its two-point form (IUPAC, Compendium of Chemical Terminology), written out anew.
    [Fact]
    public void Between_two_rows_the_logarithm_of_the_time_is_linear_in_the_reciprocal_temperature()
    {
        var time = 60 * Math.Pow(20.0 / 60, ((1 / (20 + Zero)) - (1 / (15 + Zero))) / ((1 / (25 + Zero)) - (1 / (15 + Zero))));
        Assert.Equal(1 / (time * 60), Curve.RateAt(20 + Zero), 12);
        Assert.InRange(time, 34.3, 34.5);
    }

    [Fact]
    public void Nothing_is_extrapolated()
    {
        Assert.Equal(0, Curve.RateAt(14.999 + Zero));
        Assert.Equal(1 / 480.0, Curve.RateAt(40 + Zero), 15);
        Assert.Equal(1 / 480.0, Curve.RateAt(90 + Zero), 15);
        Assert.Equal(0, Over(Points((0, 14.9m), (30, 14.9m)), 0, 30).Earned);
    }

    // Published gel times of an epoxy: 16.4, 9.2 and 4.2 min at 150, 170 and 200 °C, said to give 45.1 to 45.6 kJ/mol
    // (the times and the range as published; from the outer two, 9.17 min is predicted at 170 °C).
    [Fact]
    public void Published_gel_times_of_an_epoxy()
    {
        var outer = Of((150, 16.4), (200, 4.2));
        Assert.Equal(9.17, 1 / outer.RateAt(170 + Zero) / 60, 0.005);
        foreach (var (cold, hot) in new[] { (150.0, 170.0), (170.0, 200.0), (150.0, 200.0) })
        {
            var all = Of((150, 16.4), (170, 9.2), (200, 4.2));
            var energy = 8.314462618 * Math.Log(all.RateAt(hot + Zero) / all.RateAt(cold + Zero)) / ((1 / (cold + Zero)) - (1 / (hot + Zero)));
            Assert.InRange(energy, 45_050, 45_650);
        }
    }

    // Common practice, no source: the rate doubles for each 10 °C; an approximation of the Arrhenius equation over a small range.
    [Fact]
    public void Twice_the_rate_for_ten_degrees_is_close_to_it()
    {
        var curve = Of((15, 20), (25, 10), (35, 5), (45, 2.5));
        for (var celsius = 15.0; celsius <= 45; celsius += 0.5)
        {
            var rule = 10 * Math.Pow(2, (25 - celsius) / 10);
            Assert.InRange(1 / curve.RateAt(celsius + Zero) / 60 / rule, 0.99, 1.01);
        }
    }

    [Fact]
    public void A_step_of_temperature_adds_both_parts()
    {
        // A minute of change between two constant parts: 10 min of 60 at 15 °C, 9 min of 20 at 25 °C, and the minute between.
        var points = Points((0, 15), (10, 15), (11, 25), (20, 25));
        var between = Curve.Dose(15 + Zero, 25 + Zero, 60);
        Assert.Equal((10 / 60.0) + (9 / 20.0) + between, Over(points, 0, 20).Earned, 12);
        Assert.InRange(between, 1 / 60.0, 1 / 20.0);
    }

    // Against an independent routine: MathNet.Numerics, Gauss-Kronrod of 15 points, on the rate written out anew over time.
    [Theory]
    [InlineData(16, 24)]
    [InlineData(24.5, 15.5)]
    [InlineData(25, 40)]
    [InlineData(39.9, 25.1)]
    public void A_linear_ramp_between_two_rows_agrees_with_numerical_quadrature(double from, double to)
    {
        var (cold, hot, slow, fast) = Math.Max(from, to) <= 25 ? (15.0, 25.0, 60.0, 20.0) : (25.0, 40.0, 20.0, 8.0);
        var energy = Math.Log(slow / fast) / ((1 / (cold + Zero)) - (1 / (hot + Zero)));
        var expected = GaussKronrodRule.Integrate(
            t => Math.Exp(-energy * ((1 / (from + Zero + ((to - from) * t / 1_500))) - (1 / (cold + Zero)))) / (slow * 60), 0, 1_500, out _, out _, 1e-13);
        Assert.Equal(1, Curve.Dose(from + Zero, to + Zero, 1_500) / expected, 1e-12);
    }

    [Fact]
    public void A_ramp_from_below_the_table_to_above_it_agrees_with_numerical_quadrature()
    {
        // From 5 to 65 °C in 30 min: nothing for 5 min, two curves, then the hottest row for 12.5 min. One integral for each smooth part.
        var expected = new[] { (300.0, 600.0), (600.0, 1_050.0), (1_050.0, 1_800.0) }
            .Sum(p => GaussKronrodRule.Integrate(t => Curve.RateAt(5 + Zero + (t / 30)), p.Item1, p.Item2, out _, out _, 1e-13));
        Assert.Equal(1, Over(Points((0, 5), (30, 65)), 0, 30).Earned / expected, 1e-12);
        Assert.Equal(750 / 480.0, Curve.Dose(40 + Zero, 65 + Zero, 750), 12);
    }

    [Fact]
    public void A_gap_that_is_too_long_earns_nothing_and_what_it_may_have_held_is_told()
    {
        var points = Points((0, 25), (30, 25), (61, 25));
        var dose = Over(points, 0, 61);
        Assert.Equal(30 / 20.0, dose.Earned, 12);
        Assert.Equal((30 / 20.0) + (31 / 8.0), dose.Possible, 9);
        Assert.Equal(TimeSpan.FromMinutes(31), dose.Uncovered);
    }

    [Fact]
    public void Before_the_first_reading_nothing_is_earned_and_the_last_one_holds_for_as_long_as_a_gap()
    {
        var points = Points((10, 15));
        Assert.Equal(0, Over(points, 0, 10).Earned);
        Assert.Equal(0.5, Over(points, 0, 40).Earned, 12);
        Assert.Equal(0.5, Over(points, 0, 400).Earned, 12);
        Assert.Equal(TimeSpan.FromMinutes(370), Over(points, 0, 400).Uncovered);
    }

    [Fact]
    public void The_forecast_stays_at_the_last_reading()
    {
        // 15 min at 25 °C, 15 min down to 15 °C, and the rest at 15 °C.
        var points = Points((0, 25), (5, 25), (15, 15));
        var earned = Over(points, 0, 15).Earned;
        var ready = CureDose.ForecastReachedAt(Curve, points.AsSpan(), Gap, Some.At(0))!.Value;
        Assert.Equal(15 + ((1 - earned) * 60), (ready - Some.Noon).TotalMinutes, 1e-6);
        Assert.Null(CureDose.ForecastReachedAt(Curve, Points((0, 10)).AsSpan(), Gap, Some.At(0)));
    }

    [Fact]
    public void Of_two_readings_of_one_moment_the_colder_one_counts_and_no_temperature_is_no_reading()
    {
        Assert.Equal(18m, Assert.Single(Points((0, 25), (0, 18), (0, 21))).Entered.Value);
        var facts = ImmutableArray.Create(new RecordedFact(
            Some.Id(1),
            new TemperatureRecorded(Some.Station, [new(Some.Noon, new(5, "N.m")), null!, new(Some.At(1), new(-300, "Cel")), new(Some.At(2), new(77, "[degF]"))]) { OccurredAt = Some.Noon },
            Some.Noon));
        var only = Assert.Single(TemperatureDay.Of(facts).Points);
        Assert.Equal(298.15, only.Kelvin);
    }

    [Fact]
    public void A_table_in_which_hotter_takes_longer_is_read_with_the_longer_time()
    {
        var curve = Of((15, 10), (25, 20), (40, 8));
        Assert.Equal(1 / 1_200.0, curve.RateAt(15 + Zero), 15);
        Assert.Equal(1 / 1_200.0, curve.RateAt(25 + Zero), 15);
    }

    [Fact]
    public void A_state_that_no_row_tells_of_has_no_curve() =>
        Assert.Null(CureCurve.Of(Some.CureTable((20, 5, null)), CureState.Full));
}
