namespace Traceability.Contracts.Intervals;

/// <summary>Interval rules that were broken in a period, and those that are broken by what is open now.</summary>
/// <param name="From">Begin of the period (RFC 3339, UTC), included.</param>
/// <param name="To">End of the period, excluded.</param>
/// <param name="AsOf">The moment of asking, which the open ones are judged by.</param>
/// <param name="Counts">How many there are of each kind, whatever the limit.</param>
/// <param name="IsTruncated">Whether the limit left some past ones out of the list; the counts hold all.</param>
/// <param name="Past">
/// Findings on intervals that ended in the period, newest first: interval-too-short, interval-too-long, interval-undetermined,
/// interval-start-not-recorded. The last two are no pass: nothing proves that the rule was kept.
/// </param>
/// <param name="Open">Intervals that are overdue now, or too near to the maximum for the clock's uncertainty to tell; longest overdue first. The period does not apply.</param>
/// <param name="Completeness">What may be missing from it.</param>
public sealed record IntervalViolations(
    DateTimeOffset From,
    DateTimeOffset To,
    DateTimeOffset AsOf,
    ViolationCounts Counts,
    bool IsTruncated,
    IReadOnlyList<Finding> Past,
    IReadOnlyList<RunningInterval> Open,
    Completeness Completeness);

/// <summary>How many violations there are.</summary>
/// <param name="TooShort">Ended before the minimum.</param>
/// <param name="TooLong">Ended after the maximum.</param>
/// <param name="Undetermined">Too near to a limit for the clocks' uncertainty, or the end is not recorded.</param>
/// <param name="StartNotRecorded">The start is not recorded.</param>
/// <param name="Open">Overdue, or undetermined at the maximum, at the moment of asking.</param>
public sealed record ViolationCounts(long TooShort, long TooLong, long Undetermined, long StartNotRecorded, int Open);
