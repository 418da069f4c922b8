using Traceability.Domain.Facts;
using Traceability.Domain.Judging;

namespace Traceability.Domain.Scope;

/// <summary>The units on which an interval was of a suspect length, and those of which no record tells how long it was.</summary>
internal static class IntervalStart
{
    /// <summary>Looks them up.</summary>
    public static async ValueTask<DirectReaches> FindAsync(SuspectInterval suspect, IScopeSource source, CancellationToken cancellation)
    {
        var found = new DirectReaches(suspect);
        foreach (var interval in await source.IntervalsAsync(suspect, cancellation))
        {
            found.AddRecord(Share(suspect, interval), HopKind.IntervalEnded, interval.Unit, interval.RowId, Time(interval), interval.Step, interval.Station);
        }

        foreach (var gap in await source.WorkGapsAsync(WorkGapKind.Interval, suspect.Item, [suspect.Rule.Value], cancellation))
        {
            found.AddGap(HopKind.IntervalMissing, gap);
        }

        return found;
    }

    private static ScopeVerdict? Share(SuspectInterval suspect, IntervalRow interval)
    {
        // Nothing lasts less than no time: an end that is not recorded came after the start.
        var least = interval.Least ?? TimeSpan.MinValue;
        var most = interval.Most ?? TimeSpan.MaxValue;
        return suspect.ShorterThan is { } shorter
            ? most < shorter ? ScopeVerdict.Proven : least < shorter ? ScopeVerdict.Possible : null
            : least > suspect.LongerThan ? ScopeVerdict.Proven : most > suspect.LongerThan ? ScopeVerdict.Possible : null;
    }

    // The end is known no better than the clocks allow; half the spread of the length is at least the uncertainty of its end.
    private static (DateTimeOffset From, DateTimeOffset? To) Time(IntervalRow interval)
    {
        if (interval.Least is not { } least || interval.Most is not { } most)
        {
            return (DateTimeOffset.MinValue, null);
        }

        var off = (most - least) / 2;
        return (Instant.Shift(interval.At, -off), Instant.Shift(interval.At, off));
    }
}
