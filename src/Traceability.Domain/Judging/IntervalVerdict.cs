using Traceability.Domain.Facts;

namespace Traceability.Domain.Judging;

/// <summary>Whether an interval kept its rule.</summary>
public enum IntervalVerdict
{
    /// <summary>Within the limits, whichever way the clocks were off.</summary>
    Kept,

    /// <summary>Shorter than the minimum, whichever way the clocks were off.</summary>
    TooShort,

    /// <summary>Longer than the maximum, whichever way the clocks were off.</summary>
    TooLong,

    /// <summary>The limit lies within the uncertainty of the clocks.</summary>
    Undetermined,
}

/// <summary>Judges one interval.</summary>
public static class IntervalVerdicts
{
    /// <summary>
    /// Judges an elapsed time. Exactly the minimum and exactly the maximum keep the rule when both ends are known exactly.
    /// </summary>
    /// <param name="elapsed">End less start; negative where the clocks say that the end came first.</param>
    /// <param name="uncertainty">The sum of the uncertainties of both ends; not negative.</param>
    /// <param name="minimum">The least time; null: none.</param>
    /// <param name="maximum">The most; null: none.</param>
    public static IntervalVerdict Judge(TimeSpan elapsed, TimeSpan uncertainty, TimeSpan? minimum, TimeSpan? maximum)
    {
        var (least, most) = Range(elapsed, uncertainty);
        if (most < minimum)
        {
            return IntervalVerdict.TooShort;
        }

        if (least > maximum)
        {
            return IntervalVerdict.TooLong;
        }

        return least < minimum || most > maximum ? IntervalVerdict.Undetermined : IntervalVerdict.Kept;
    }

    /// <summary>The least and the most that an interval can have lasted, whichever way the clocks were off.</summary>
    /// <param name="elapsed">End less start; negative where the clocks say that the end came first.</param>
    /// <param name="uncertainty">The sum of the uncertainties of both ends; not negative.</param>
    public static (TimeSpan Least, TimeSpan Most) Range(TimeSpan elapsed, TimeSpan uncertainty) =>
    (
        elapsed < TimeSpan.Zero && uncertainty > elapsed - TimeSpan.MinValue ? TimeSpan.MinValue : elapsed - uncertainty,
        elapsed > TimeSpan.Zero ? Instant.Sum(elapsed, uncertainty) : elapsed + uncertainty);

    /// <summary>One verdict of that on the minimum and that on the maximum.</summary>
    public static IntervalVerdict Both(IntervalVerdict minimum, IntervalVerdict maximum) =>
        minimum == IntervalVerdict.TooShort || maximum == IntervalVerdict.Kept ? minimum
        : maximum == IntervalVerdict.TooLong ? maximum
        : IntervalVerdict.Undetermined;
}
