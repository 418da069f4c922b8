namespace Traceability.Domain.Facts;

/// <summary>Arithmetic on times that stops at the ends of the calendar, so that no reported time can make a judgement fail.</summary>
public static class Instant
{
    /// <summary>The time, moved; the first or last time that can be written where it would leave the calendar.</summary>
    public static DateTimeOffset Shift(DateTimeOffset at, TimeSpan by)
    {
        if (by == TimeSpan.Zero)
        {
            return at;
        }

        var ticks = at.UtcTicks;
        if (by.Ticks >= DateTimeOffset.MaxValue.UtcTicks - ticks)
        {
            return DateTimeOffset.MaxValue;
        }

        return by.Ticks <= -ticks ? DateTimeOffset.MinValue : new DateTimeOffset(ticks + by.Ticks, TimeSpan.Zero);
    }

    /// <summary>The sum; the longest time span where it would be longer. Both must not be negative.</summary>
    public static TimeSpan Sum(TimeSpan a, TimeSpan b) =>
        a.Ticks > TimeSpan.MaxValue.Ticks - b.Ticks ? TimeSpan.MaxValue : a + b;
}
