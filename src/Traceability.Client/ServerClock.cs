namespace Traceability.Client;

/// <summary>How far the service's clock is from the terminal's.</summary>
/// <param name="Offset">Service's time less terminal's time: positive when the terminal is slow. The middle of what is possible.</param>
/// <param name="Uncertainty">Half of the range of what is possible: from the way of requests, and from answers that tell whole seconds.</param>
/// <param name="MeasuredAt">When it was last measured, by the terminal's clock.</param>
public sealed record ClockOffset(TimeSpan Offset, TimeSpan Uncertainty, DateTimeOffset MeasuredAt);

/// <summary>Measures the service's clock by its answers. Members may be used from any thread.</summary>
/// <remarks>
/// An answer that was asked for at a and came at b, by the terminal, and tells the service's time s with a fineness of f,
/// bounds the offset: s - b &lt;= offset &lt;= s + f - a. Several answers bound it together (the intersection, as in
/// Marzullo's algorithm for one source); an answer that contradicts the earlier ones starts anew, since a clock was set.
/// </remarks>
internal sealed class ServerClock(TimeProvider time)
{
    // The Date header tells whole seconds and is renewed once a second: it may be almost two seconds old.
    internal static readonly TimeSpan DateFineness = TimeSpan.FromSeconds(2);

    // Two crystals part by less than 100 millionths of the time, as their makers promise.
    private const double DriftPartsMax = 100e-6;

    private readonly Lock gate = new();
    private (TimeSpan Low, TimeSpan High, long Stamp, DateTimeOffset At)? known;

    /// <summary>What is known; null before the first answer.</summary>
    public ClockOffset? Current
    {
        get
        {
            lock (gate)
            {
                return known is { } k ? new(Middle(k.Low, k.High), (k.High - k.Low) / 2, k.At) : null;
            }
        }
    }

    /// <summary>Takes an answer into account.</summary>
    /// <param name="asked">When the request was sent, by the terminal.</param>
    /// <param name="answered">When the answer was there, by the terminal; asked plus the elapsed time, so that a clock set meanwhile does not matter.</param>
    /// <param name="told">The time that the answer tells.</param>
    /// <param name="fineness">How much later than told it may have been.</param>
    public void Learn(DateTimeOffset asked, DateTimeOffset answered, DateTimeOffset told, TimeSpan fineness)
    {
        var (low, high) = (told - answered, told + fineness - asked);
        if (low > high)
        {
            return;
        }

        var stamp = time.GetTimestamp();
        lock (gate)
        {
            if (known is { } k)
            {
                var drift = time.GetElapsedTime(k.Stamp, stamp) * DriftPartsMax;
                var (both, or) = (Max(low, k.Low - drift), Min(high, k.High + drift));
                (low, high) = both <= or ? (both, or) : (low, high);
            }

            known = (low, high, stamp, answered);
        }
    }

    private static TimeSpan Middle(TimeSpan a, TimeSpan b) => (a + b) / 2;

    private static TimeSpan Max(TimeSpan a, TimeSpan b) => a > b ? a : b;

    private static TimeSpan Min(TimeSpan a, TimeSpan b) => a < b ? a : b;
}
