using CsCheck;
using Traceability.Domain.Judging;
using Traceability.Testing.Building;
using Xunit;

namespace Traceability.Domain.Tests.Judging;

public sealed class OpenIntervalStateTests
{
    // What counts as the same here is the verdict on an interval that ended at the moment of asking, on a clock that is right.
    [Fact]
    public void An_open_interval_stands_as_one_that_would_end_now_is_judged()
    {
        var limits = Gen.Select(Gen.Int[0, 100], Gen.Int[0, 100], Gen.Int[0, 3], Gen.Int[0, 10]);
        var cases = limits.SelectMany(l =>
        {
            var (a, b, given, u) = l;
            var (minimum, maximum) = (Math.Min(a, b), Math.Max(a, b));
            return Gen.OneOf(Near(minimum, u), Near(maximum, u), Gen.Int[-20, 140], Gen.Int[-20, 140])
                .Select(now => (Minimum: (given & 1) != 0 ? minimum : (int?)null, Maximum: (given & 2) != 0 ? maximum : (int?)null, Uncertainty: u, Now: now));
        });

        cases.Sample(
            c =>
            {
                var state = OpenIntervalStates.At(At(c.Minimum), At(c.Maximum), Seconds(c.Uncertainty), Some.Noon.AddSeconds(c.Now));
                var verdict = IntervalVerdicts.Judge(Seconds(c.Now), Seconds(c.Uncertainty), Span(c.Minimum), Span(c.Maximum));
                Assert.Equal(verdict, Verdict(state));
            },
            iter: 20_000);

        static Gen<int> Near(int limit, int uncertainty) =>
            Gen.OneOf(Gen.Int[limit - 1, limit + 1], Gen.Int[limit - uncertainty - 1, limit - uncertainty + 1], Gen.Int[limit + uncertainty - 1, limit + uncertainty + 1]);
    }

    [Fact]
    public void Exactly_the_minimum_is_ready_and_exactly_the_maximum_is_not_overdue_on_a_clock_that_is_right()
    {
        Assert.Equal(OpenIntervalState.NotReady, State(599.9, 0));
        Assert.Equal(OpenIntervalState.Ready, State(600, 0));
        Assert.Equal(OpenIntervalState.Ready, State(1200, 0));
        Assert.Equal(OpenIntervalState.Overdue, State(1200.1, 0));
        Assert.Equal(OpenIntervalState.UndeterminedAtMinimum, State(601, 2));
        Assert.Equal(OpenIntervalState.UndeterminedAtMaximum, State(1199, 2));

        // Both limits lie within the uncertainty: the maximum can't be waited out.
        Assert.Equal(OpenIntervalState.UndeterminedAtMaximum, State(900, 400));
        Assert.Equal(OpenIntervalState.Ready, OpenIntervalStates.At(null, null, TimeSpan.Zero, Some.Noon));

        static OpenIntervalState State(double seconds, double uncertainty) =>
            OpenIntervalStates.At(Some.At(10), Some.At(20), TimeSpan.FromSeconds(uncertainty), Some.Noon.AddSeconds(seconds));
    }

    [Fact]
    public void Limits_and_uncertainties_at_the_ends_of_the_calendar_are_judged_too()
    {
        Assert.Equal(OpenIntervalState.Ready, OpenIntervalStates.At(DateTimeOffset.MinValue, DateTimeOffset.MaxValue, TimeSpan.Zero, Some.Noon));
        Assert.Equal(OpenIntervalState.UndeterminedAtMaximum, OpenIntervalStates.At(DateTimeOffset.MinValue, DateTimeOffset.MaxValue, TimeSpan.MaxValue, Some.Noon));
    }

    private static TimeSpan Seconds(int seconds) => TimeSpan.FromSeconds(seconds);

    private static TimeSpan? Span(int? seconds) => seconds is { } s ? Seconds(s) : null;

    private static DateTimeOffset? At(int? seconds) => seconds is { } s ? Some.Noon.AddSeconds(s) : null;

    private static IntervalVerdict Verdict(OpenIntervalState state) => state switch
    {
        OpenIntervalState.Overdue => IntervalVerdict.TooLong,
        OpenIntervalState.NotReady => IntervalVerdict.TooShort,
        OpenIntervalState.Ready => IntervalVerdict.Kept,
        _ => IntervalVerdict.Undetermined,
    };
}
