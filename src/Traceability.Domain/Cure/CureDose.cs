using System.Runtime.InteropServices;
using Traceability.Domain.Facts;

namespace Traceability.Domain.Cure;

/// <summary>What temperature readings tell of a cure over a time.</summary>
/// <param name="Earned">The dose that the readings show: the integral of dt / time(T(t)). At 1 the state is reached.</param>
/// <param name="Possible">The most that it can have been: as if every stretch that no reading covers had been as hot as the hottest row.</param>
/// <param name="Uncovered">How long no reading tells the temperature.</param>
/// <param name="ReachedAt">From when on the dose is 1; null if it doesn't get there.</param>
[StructLayout(LayoutKind.Auto)]
public readonly record struct CureDose(double Earned, double Possible, TimeSpan Uncovered, DateTimeOffset? ReachedAt)
{
    /// <summary>The dose from which on the state counts as reached: 1, less what the arithmetic of doubles may lose (a microsecond in a quarter of an hour).</summary>
    public const double Whole = 1 - 1e-9;

    /// <summary>Integrates the readings over a time.</summary>
    /// <param name="curve">How fast it cures.</param>
    /// <param name="points">The readings at the place, by time, no two of one moment.</param>
    /// <param name="gapMax">The longest time between two readings over which they tell the temperature.</param>
    /// <param name="from">Begin.</param>
    /// <param name="to">End; before the begin, nothing is earned.</param>
    /// <remarks>
    /// Between two readings that are at most <paramref name="gapMax"/> apart, the temperature is taken to be linear in time. After
    /// the last reading it is taken to stay for <paramref name="gapMax"/>. Everywhere else, between two readings that are further
    /// apart, before the first and long after the last, nothing is known and no dose is earned. So the dose at a moment depends on
    /// the readings alone: it is additive over parts of the time, and never falls.
    /// </remarks>
    public static CureDose Over(CureCurve curve, ReadOnlySpan<TemperaturePoint> points, TimeSpan gapMax, DateTimeOffset from, DateTimeOffset to)
    {
        ArgumentNullException.ThrowIfNull(curve);
        double earned = 0, missed = 0;
        var uncovered = TimeSpan.Zero;
        DateTimeOffset? reached = null;
        var last = LastBy(points, from);
        for (var at = from; at < to;)
        {
            var stretch = Stretch.At(points, last, gapMax, at, to);
            if (stretch.IsKnown)
            {
                var dose = curve.Dose(stretch.FromKelvin, stretch.ToKelvin, (stretch.End - at).TotalSeconds);
                reached ??= earned + dose >= Whole ? ReachedIn(curve, stretch, at, earned) : null;
                earned += dose;
            }
            else
            {
                missed += (stretch.End - at).TotalSeconds * curve.RateMax;
                uncovered += stretch.End - at;
            }

            at = stretch.End;
            last += last + 1 < points.Length && at >= points[last + 1].At ? 1 : 0;
        }

        return new(earned, earned + missed, uncovered, reached);
    }

    /// <summary>When the whole dose is reached if the temperature stays at the last reading for ever; null: not before the end of the calendar.</summary>
    /// <remarks>The parameters are those of <see cref="Over"/>; there must be a reading.</remarks>
    public static DateTimeOffset? ForecastReachedAt(CureCurve curve, ReadOnlySpan<TemperaturePoint> points, TimeSpan gapMax, DateTimeOffset from)
    {
        ArgumentNullException.ThrowIfNull(curve);
        var held = Instant.Shift(points[^1].At, gapMax);
        held = held < from ? from : held;
        var so = Over(curve, points, gapMax, from, held);
        if (so.ReachedAt is { } reached)
        {
            return reached;
        }

        var seconds = (Whole - so.Earned) / curve.RateAt(points[^1].Kelvin);
        return seconds < (DateTimeOffset.MaxValue - held).TotalSeconds ? held + TimeSpan.FromTicks((long)Math.Ceiling(seconds * TimeSpan.TicksPerSecond)) : null;
    }

    // The first tick of the stretch at whose end the dose is whole: the dose never falls, so halving finds it.
    private static DateTimeOffset ReachedIn(CureCurve curve, Stretch stretch, DateTimeOffset from, double before)
    {
        long low = 0, high = (stretch.End - from).Ticks;
        var all = (double)high;
        while (low + 1 < high)
        {
            var middle = low + ((high - low) / 2);
            var kelvin = stretch.FromKelvin + ((stretch.ToKelvin - stretch.FromKelvin) * (middle / all));
            if (before + curve.Dose(stretch.FromKelvin, kelvin, middle / (double)TimeSpan.TicksPerSecond) >= Whole)
            {
                high = middle;
            }
            else
            {
                low = middle;
            }
        }

        return from.AddTicks(high);
    }

    // The place of the last reading at or before a moment; -1 if there is none.
    private static int LastBy(ReadOnlySpan<TemperaturePoint> points, DateTimeOffset at)
    {
        var last = -1;
        while (last + 1 < points.Length && points[last + 1].At <= at)
        {
            last++;
        }

        return last;
    }

    // A time within which the temperature is linear, or not known.
    [StructLayout(LayoutKind.Auto)]
    private readonly record struct Stretch(bool IsKnown, double FromKelvin, double ToKelvin, DateTimeOffset End)
    {
        public static Stretch At(ReadOnlySpan<TemperaturePoint> points, int last, TimeSpan gapMax, DateTimeOffset at, DateTimeOffset to)
        {
            if (last + 1 < points.Length)
            {
                var next = points[last + 1];
                var end = next.At < to ? next.At : to;
                return last < 0 || next.At - points[last].At > gapMax
                    ? new(IsKnown: false, 0, 0, end)
                    : new(IsKnown: true, Between(points[last], next, at), Between(points[last], next, end), end);
            }

            if (last < 0)
            {
                return new(IsKnown: false, 0, 0, to);
            }

            var held = Instant.Shift(points[last].At, gapMax);
            return at < held ? new(IsKnown: true, points[last].Kelvin, points[last].Kelvin, held < to ? held : to) : new(IsKnown: false, 0, 0, to);
        }

        private static double Between(TemperaturePoint a, TemperaturePoint b, DateTimeOffset at) =>
            at <= a.At ? a.Kelvin : at >= b.At ? b.Kelvin : a.Kelvin + ((b.Kelvin - a.Kelvin) * ((at - a.At) / (b.At - a.At)));
    }
}
