using System.Collections.Immutable;
using CsCheck;
using Traceability.Domain.Primitives;
using Traceability.Domain.Statistics;
using Traceability.Testing.Building;
using Xunit;

namespace Traceability.Domain.Tests.Statistics;

public sealed class ToolStatisticsTests
{
    // Two series of 25 invented readings. Mean and standard deviation: Python 3.11, statistics.mean and statistics.stdev on exact
    // fractions; the other figures by hand from those.
    private static readonly double[] Hard =
    [
        1.239, 1.272, 1.229, 1.233, 1.266, 1.272, 1.252, 1.263, 1.273, 1.230, 1.249, 1.253, 1.207, 1.225, 1.261, 1.288, 1.227, 1.245, 1.302, 1.277, 1.240, 1.235, 1.252, 1.235, 1.243,
    ];

    private static readonly double[] Soft =
    [
        1.204, 1.216, 1.196, 1.188, 1.188, 1.153, 1.196, 1.187, 1.221, 1.205, 1.136, 1.157, 1.209, 1.163, 1.221, 1.200, 1.178, 1.199, 1.251, 1.241, 1.259, 1.234, 1.195, 1.187, 1.253,
    ];

    // NIST/SEMATECH e-Handbook of Statistical Methods, data of 6.3.2.2.
    private static readonly double[] Handbook = [49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1];

    // NIST StRD, univariate summary statistics, certified values. NumAcc1: 10000001, 10000003, 10000002. The others: a value and
    // then 500 pairs below and above it, as the data sets' own descriptions build them.
    [Theory]
    [InlineData(1.2, 1.2, 0.1)]
    [InlineData(1_000_000.2, 1_000_000.2, 0.1)]
    [InlineData(10_000_000.2, 10_000_000.2, 0.1)]
    public void Mean_and_deviation_keep_their_digits_where_values_are_large_and_close(double middle, double mean, double deviation)
    {
        double[] values = [middle, .. Enumerable.Range(0, 500).SelectMany(_ => new[] { middle - 0.1, middle + 0.1 })];
        var figures = SampleFigures.Of(values);

        Assert.Equal(1_001, figures.Count);
        Assert.Equal(mean, figures.Mean, 1e-14 * mean);
        Assert.Equal(deviation, figures.StandardDeviation!.Value, 1e-8);
    }

    [Fact]
    public void Three_large_values_have_their_certified_mean_and_deviation()
    {
        var figures = SampleFigures.Of([10_000_001, 10_000_003, 10_000_002]);

        Assert.Equal((10_000_002, 1), (figures.Mean, figures.StandardDeviation));
        Assert.Equal((10_000_001, 10_000_003), (figures.Minimum, figures.Maximum));
        Assert.Null(SampleFigures.Of([1]).StandardDeviation);
        Assert.Throws<ArgumentException>(() => SampleFigures.Of([]));
    }

    // R 4.2.2: Cp = 1 at n = 50 has the 95 % interval .802482 to 1.197126 (chi-square, exact), which is that of the deviation upside down.
    [Fact]
    public void The_interval_of_the_deviation_is_that_of_the_chi_square()
    {
        double[] values = [.. Enumerable.Range(0, 50).Select(i => i % 2 == 0 ? -1.0 : 1.0)];
        var figures = SampleFigures.Of(values);
        var interval = figures.DeviationInterval()!.Value;

        Assert.Equal(0.802482, figures.StandardDeviation!.Value / interval.Upper, 1e-6);
        Assert.Equal(1.197126, figures.StandardDeviation!.Value / interval.Lower, 1e-6);
    }

    [Fact]
    public void A_study_on_two_joints_has_the_figures_of_the_reference()
    {
        var study = Of(("SOFT", Soft), ("HARD", Hard))!;

        Assert.Equal(["HARD", "SOFT"], study.Joints.Select(j => j.Joint.Value));
        Assert.Equal(1.25072, study.Joints[0].Mean, 1e-12);
        Assert.Equal(0.022176413897051373, study.Joints[0].StandardDeviation, 1e-12);
        Assert.Equal(0.13305848338230825, study.Joints[0].Scatter, 1e-12);
        Assert.Equal(0.10638550865286255, study.Joints[0].ScatterShare!.Value, 1e-12);
        Assert.Equal(1.20148, study.Joints[1].Mean, 1e-12);
        Assert.Equal(0.031374246338889696, study.Joints[1].StandardDeviation, 1e-12);
        Assert.Equal(0.15667799549999847, study.Joints[1].ScatterShare!.Value, 1e-12);
        Assert.Equal(1.2123032513372425, study.CombinedMean, 1e-12);
        Assert.Equal(0.209891980707823, study.CombinedScatter, 1e-12);
        Assert.Equal(0.17313488227990784, study.CombinedShare!.Value, 1e-12);
        Assert.Equal(0.04924, study.MeanShift, 1e-12);
        Assert.Equal(0.04061690005836849, study.MeanShiftShare!.Value, 1e-12);
        Assert.True(study.IsFull);
    }

    [Fact]
    public void One_joint_combines_to_itself_and_is_no_full_test()
    {
        var study = Of(("HARD", Hard))!;

        Assert.Equal(study.Joints[0].Mean, study.CombinedMean, 1e-12);
        Assert.Equal(study.Joints[0].Scatter, study.CombinedScatter, 1e-12);
        Assert.Equal(0, study.MeanShift);
        Assert.False(study.IsFull);
        Assert.False(Of(("HARD", Hard), ("SOFT", Soft[..24]))!.IsFull);
        Assert.Null(Of(("HARD", [1.2])));
        Assert.Null(Of(("HARD", [-1, 1]))!.CombinedShare);
    }

    [Fact]
    public void The_combined_scatter_holds_that_of_every_joint() => Gen.Select(Gen.Double[0.5, 2].Array[2, 30], Gen.Double[0.5, 2].Array[2, 30]).Sample(
        (hard, soft) =>
        {
            var study = Of(("HARD", hard), ("SOFT", soft))!;
            Assert.All(study.Joints, j =>
            {
                Assert.True(j.Mean + (3 * j.StandardDeviation) <= study.CombinedMean + (study.CombinedScatter / 2) + 1e-9);
                Assert.True(j.Mean - (3 * j.StandardDeviation) >= study.CombinedMean - (study.CombinedScatter / 2) - 1e-9);
            });
        },
        iter: 500);

    // NIST handbook 6.3.2.2: mean 50.81, mean moving range 1.8778; limits 55.8041 and 45.8159 with d2 rounded to 1.128, and
    // 55.80241 and 45.81759 with d2 = 2/√π (R 4.2.2). D4 of ranges of two: 3.267 in the handbook's table.
    [Fact]
    public void The_individuals_chart_has_the_limits_of_the_handbook()
    {
        var chart = IndividualsChart.Of(Handbook)!;

        Assert.Equal(50.81, chart.Centre, 1e-9);
        Assert.Equal(1.8778, chart.MeanRange, 1e-4);
        Assert.Equal(55.80241, chart.Upper, 1e-5);
        Assert.Equal(45.81759, chart.Lower, 1e-5);
        Assert.Equal(55.8041, chart.Centre + (3 * chart.MeanRange / 1.128), 1e-4);
        Assert.Equal(3.267, IndividualsChart.D4, 5e-4);
        Assert.Null(IndividualsChart.Of([1]));
    }

    // NIST handbook 6.3.2.4: weight .3, start 50, s 2.0539.
    [Fact]
    public void The_moving_average_chart_has_the_values_of_the_handbook()
    {
        double[] values = [52, 47, 53, 49.3, 50.1, 47, 51, 50.1, 51.2, 50.5, .. Handbook];
        var chart = EwmaChart.Of(values, 50, 2.0539, 0.3);

        Assert.Equal(
            [50.60, 49.52, 50.56, 50.18, 50.16, 49.21, 49.75, 49.85, 50.26, 50.33, 50.11, 49.36, 49.52, 50.05, 49.38, 49.92, 50.73, 51.23, 51.94, 51.99],
            chart.Averages.Select(a => Math.Round(a, 2)));
        Assert.Equal(52.5884, chart.Upper, 1e-4);
        Assert.Equal(47.4116, chart.Lower, 1e-4);
        Assert.Throws<ArgumentOutOfRangeException>(() => EwmaChart.Of([1], 0, 1, 0));
        Assert.Throws<ArgumentOutOfRangeException>(() => EwmaChart.Of([1], 0, double.NaN));
    }

    private static TorqueCapability? Of(params (string Joint, double[] Readings)[] series) =>
        TorqueCapability.Of(series.Select(s => new KeyValuePair<Code, ImmutableArray<double>>(Some.Code(s.Joint), [.. s.Readings])));
}
