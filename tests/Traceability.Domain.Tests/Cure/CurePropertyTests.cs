using System.Collections.Immutable;
using CsCheck;
using Traceability.Domain.Cure;
using Traceability.Domain.Facts;
using Traceability.Testing.Building;
using Xunit;

namespace Traceability.Domain.Tests.Cure;

public sealed class CurePropertyTests
{
    private static readonly CureCurve Curve = CureCurve.Of(Some.CureTable((15, null, 60), (25, null, 20), (40, null, 8)), CureState.Full)!;

    private static readonly TimeSpan Gap = TimeSpan.FromMinutes(30);

    // Half of the temperatures sit on or beside a row of the table, and gaps beside the bound: uniform ones would almost never meet them.
    private static Gen<int> TenthsOfDegrees =>
        Gen.OneOf(Gen.OneOf(Gen.Const(150), Gen.Const(250), Gen.Const(400)).SelectMany(t => Gen.Int[t - 1, t + 1]), Gen.Int[50, 500]);

    private static Gen<(int At, int Tenths)[]> Readings =>
        from gaps in Gen.OneOf(Gen.Int[29, 31], Gen.Int[0, 50]).Array[0, 8]
        from temperatures in TenthsOfDegrees.Array[gaps.Length]
        select gaps.Select((_, i) => (gaps.Take(i + 1).Sum(), temperatures[i])).ToArray();

    private static Gen<int> Minute => Gen.Int[0, 300];

    private static ImmutableArray<RecordedFact> Facts((int At, int Tenths)[] readings) =>
        [.. readings.Select((r, i) => new RecordedFact(Some.Id(i + 1), Some.Temperature("ST-1", r.At, r.Tenths / 10m), Some.Noon))];

    private static CureDose Over((int At, int Tenths)[] readings, int from, int to) =>
        CureDose.Over(Curve, TemperatureDay.Of(Facts(readings)).Points.AsSpan(), Gap, Some.At(from), Some.At(to));

    [Fact]
    public void The_dose_is_additive_and_never_falls() =>
        Gen.Select(Readings, Minute, Minute, Minute).Sample(
            (readings, a, b, c) =>
            {
                var at = new[] { a, b, c }.Order().ToArray();
                var (first, second, both) = (Over(readings, at[0], at[1]), Over(readings, at[1], at[2]), Over(readings, at[0], at[2]));
                Assert.Equal(both.Earned, first.Earned + second.Earned, 1e-11);
                Assert.Equal(both.Possible, first.Possible + second.Possible, 1e-11);
                Assert.Equal(both.Uncovered, first.Uncovered + second.Uncovered);
                Assert.True(first.Earned >= 0 && second.Earned >= 0 && both.Possible >= both.Earned);
            },
            iter: 5_000);

    [Fact]
    public void Colder_never_helps() =>
        Gen.Select(Readings.Where(r => r.Length > 0), Gen.Int[0, 7], Gen.OneOf(Gen.Const(1), Gen.Int[1, 200]), Minute).Sample(
            (readings, which, colder, to) =>
            {
                var changed = readings.Select((r, i) => i == which % readings.Length ? (r.At, r.Tenths - colder) : r).ToArray();
                var (warm, cold) = (Over(readings, 0, to), Over(changed, 0, to));
                Assert.True(cold.Earned <= warm.Earned + 1e-12 && cold.Possible <= warm.Possible + 1e-12);
                Assert.True(cold.ReachedAt is null || cold.ReachedAt >= warm.ReachedAt);
                Assert.False(Forecast(changed) < Forecast(readings));
            },
            iter: 5_000);

    [Fact]
    public void The_order_in_which_readings_arrive_means_nothing() =>
        Readings.SelectMany(r => Gen.Shuffle(Facts(r).ToArray()), (readings, shuffled) => (readings, shuffled)).Sample(
            (readings, shuffled) =>
                Assert.Equal<IEnumerable<TemperaturePoint>>(TemperatureDay.Of(Facts(readings)).Points.ToArray(), TemperatureDay.Of([.. shuffled]).Points.ToArray()),
            iter: 1_000);

    [Fact]
    public void The_moment_at_which_the_dose_is_whole_is_the_first_one() =>
        Readings.Sample(
            readings =>
            {
                if (Over(readings, 0, 400).ReachedAt is not { } reached)
                {
                    Assert.True(Over(readings, 0, 400).Earned < CureDose.Whole);
                    return;
                }

                var points = TemperatureDay.Of(Facts(readings)).Points;
                Assert.True(CureDose.Over(Curve, points.AsSpan(), Gap, Some.At(0), reached).Earned >= CureDose.Whole - 1e-12);
                Assert.True(CureDose.Over(Curve, points.AsSpan(), Gap, Some.At(0), reached.AddMilliseconds(-1)).Earned < CureDose.Whole);
            },
            iter: 2_000);

    // The forecast, the end of the calendar where there is none.
    private static DateTimeOffset Forecast((int At, int Tenths)[] readings) =>
        CureDose.ForecastReachedAt(Curve, TemperatureDay.Of(Facts(readings)).Points.AsSpan(), Gap, Some.At(0)) ?? DateTimeOffset.MaxValue;
}
