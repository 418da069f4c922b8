using Traceability.Contracts.Facts;

namespace Traceability.Contracts.Intervals;

/// <summary>What is curing, soaking or waiting at the moment of asking.</summary>
/// <param name="AsOf">The moment of asking (RFC 3339, UTC), which the states are judged by.</param>
/// <param name="Counts">How many intervals are open, over all that was asked for.</param>
/// <param name="IsTruncated">Whether the limit left some out of the list; the counts hold all.</param>
/// <param name="Intervals">The open intervals, by what needs attention first: overdue, about to be, ready, not ready; each by its next limit.</param>
/// <param name="Completeness">What may be missing from it.</param>
public sealed record OpenIntervals(DateTimeOffset AsOf, IntervalCounts Counts, bool IsTruncated, IReadOnlyList<RunningInterval> Intervals,
    Completeness Completeness);

/// <summary>How many open intervals are in which state.</summary>
/// <param name="Overdue">Longer than the maximum.</param>
/// <param name="Undetermined">Too near to a limit for the uncertainty of the clock that reported the start.</param>
/// <param name="Ready">Minimum met, maximum not exceeded.</param>
/// <param name="NotReady">Shorter than the minimum.</param>
/// <param name="Total">All of them.</param>
public sealed record IntervalCounts(int Overdue, int Undetermined, int Ready, int NotReady, int Total);

/// <summary>An interval that has started and not ended.</summary>
/// <param name="Unit">The unit.</param>
/// <param name="Rule">The interval rule of the unit's routing revision.</param>
/// <param name="Name">What it is for, in words.</param>
/// <param name="FromStep">The step that started it.</param>
/// <param name="ToStep">The step that ends it.</param>
/// <param name="Station">Where the step that started it was completed last; null while it is not completed, or the record names none.</param>
/// <param name="StartedAt">When it started (RFC 3339, UTC), corrected by the terminal's measured clock offset.</param>
/// <param name="UncertaintySeconds">How far that may be off, either way, in seconds.</param>
/// <param name="ReadyAt">From when on the minimum is met; null without a minimum, and where no time can be told, which the assumption says then.</param>
/// <param name="OverdueAt">After when the maximum is exceeded; null without a maximum.</param>
/// <param name="State">How it stands at the moment of asking.</param>
/// <param name="Enforcement">Whether a terminal that asks before the step that ends it is told no while the rule is broken.</param>
/// <param name="CountsAsDefect">Whether breaking the rule counts as a defect in yields.</param>
public sealed record RunningInterval(
    UnitRef Unit,
    string Rule,
    string Name,
    string FromStep,
    string ToStep,
    string? Station,
    DateTimeOffset StartedAt,
    double UncertaintySeconds,
    DateTimeOffset? ReadyAt,
    DateTimeOffset? OverdueAt,
    IntervalState State,
    Enforcement Enforcement,
    bool CountsAsDefect)
{
    /// <summary>For a limit that depends on temperature: what its time assumes; null where it rests on readings alone.</summary>
    public string? Assumption { get; init; }

    /// <summary>Until when readings bear the assumption out; a later readiness is a forecast and never shown as ready. Null: no reading is needed.</summary>
    public DateTimeOffset? AssumedUntil { get; init; }
}

/// <summary>How an open interval stands against its rule. It states what was recorded against which rule, never that something is safe.</summary>
public enum IntervalState
{
    /// <summary>Longer than the maximum, whichever way the clock was off.</summary>
    Overdue,

    /// <summary>A limit lies within the clock's uncertainty, or what a forecast of its readiness assumed is not borne out by readings.</summary>
    Undetermined,

    /// <summary>The minimum is met and the maximum not exceeded, whichever way the clock was off.</summary>
    Ready,

    /// <summary>Shorter than the minimum, whichever way the clock was off.</summary>
    NotReady,
}
