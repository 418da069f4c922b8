namespace Traceability.Simulator.Truth;

/// <summary>A finding, by its identity; and whether it counts as a defect.</summary>
/// <param name="Kind">What is wrong.</param>
/// <param name="Rule">The part of the routing that was broken; "" if none.</param>
/// <param name="Step">The step; "" for a finding on the unit as a whole.</param>
/// <param name="Attempt">The attempt; 0 where the step isn't completed.</param>
/// <param name="Record">The fact that it was found on.</param>
/// <param name="IsDefect">Whether it counts as a defect.</param>
public sealed record FindingAnswer(string Kind, string Rule, string Step, int Attempt, Guid Record, bool IsDefect);

/// <summary>What came of one attempt at a step.</summary>
public sealed record StepAnswer(
    string Step,
    int Attempt,
    Guid Record,
    string Revision,
    DateTimeOffset? StartedAt,
    DateTimeOffset CompletedAt,
    DateOnly Day,
    string Station,
    string Person,
    bool IsRework,
    bool Passed,
    int Defects,
    int Opportunities);

/// <summary>An interval that has started and not ended.</summary>
public sealed record OpenAnswer(
    string Rule, string FromStep, string ToStep, DateTimeOffset StartedAt, TimeSpan Uncertainty, DateTimeOffset? ReadyAt, DateTimeOffset? OverdueAt);

/// <summary>A component in a position, from when to when.</summary>
public sealed record ContentAnswer(string Position, string Component, DateTimeOffset From, DateTimeOffset? To);

/// <summary>A lot that a record names.</summary>
public sealed record UsageAnswer(
    string Step, Guid Record, string Item, string Lot, string? Container, bool IsOneOf, DateTimeOffset From, DateTimeOffset To, string? Station)
{
    /// <summary>How much, as recorded; null: not recorded.</summary>
    public (decimal Value, string Unit)? Quantity { get; init; }
}

/// <summary>A tool that a record names.</summary>
public sealed record ToolUseAnswer(string Step, int Attempt, Guid Record, string Tool, string? Setting, DateTimeOffset At, bool IsSuspect);

/// <summary>A finding or a report of a person under decision.</summary>
/// <param name="Id">Its name within the unit.</param>
/// <param name="State">As on the wire: open, settled, under-decision, disposed, closed, moot.</param>
/// <param name="Kind">The kind of the finding, or nonconformance-reported.</param>
/// <param name="Rule">The rule or defect code.</param>
/// <param name="Step">The step; "" for none.</param>
/// <param name="Disposition">What was decided, as on the wire; null: nothing yet.</param>
/// <param name="Concession">The number of the concession that covers it.</param>
/// <param name="IsOpen">Whether it keeps its unit from being released.</param>
public sealed record NonconformanceAnswer(string Id, string State, string Kind, string Rule, string Step, string? Disposition, string? Concession, bool IsOpen);

/// <summary>What of a lot came in, went out by record and is there; null where a quantity is missing. In the unit of its receipt.</summary>
public sealed record BalanceAnswer(
    DateTimeOffset AsOf,
    decimal? Received,
    decimal? MergedIn,
    decimal? Corrected,
    decimal? SplitOff,
    decimal? Discarded,
    decimal? UsedLeast,
    decimal? UsedMost,
    decimal? OnHand,
    decimal? UnexplainedLeast,
    decimal? UnexplainedMost);

/// <summary>A required lot, container or serial that no record names.</summary>
/// <param name="Kind">"lot", "container" or "serial".</param>
/// <param name="Step">The step.</param>
/// <param name="Rule">The requirement or position.</param>
/// <param name="Items">The items that could have been used.</param>
/// <param name="Lot">For a missing container: the lot.</param>
/// <param name="From">The earliest time.</param>
/// <param name="To">The latest; null: until now.</param>
/// <param name="Station">The station; null: any.</param>
/// <param name="Reason">"not-recorded", "voided" or "step-not-recorded".</param>
public sealed record GapAnswer(
    string Kind, string Step, string Rule, IReadOnlyList<string> Items, string? Lot, DateTimeOffset From, DateTimeOffset? To, string? Station, string Reason);

/// <summary>Everything that is judged of one unit.</summary>
/// <param name="Unit">The unit ("item/serial").</param>
/// <param name="Variant">Its variant; "" for none.</param>
/// <param name="Revision">The revision that applies now; "" for none.</param>
/// <param name="Place">Where it is, as on the wire: in-process, on-hold, in-stock, shipped, returned, scrapped.</param>
/// <param name="Consignee">While shipped: to whom.</param>
/// <param name="EndedDay">The day it was first released or scrapped.</param>
/// <param name="IsScrapped">It is scrapped.</param>
/// <param name="PassedFirstTime">Ended, and every step passed at its first attempt without rework.</param>
/// <param name="Steps">One per completed attempt.</param>
/// <param name="Findings">Every rule that a record broke.</param>
/// <param name="Open">Open intervals.</param>
/// <param name="Contents">What was put into it.</param>
/// <param name="Usages">Lots that its records name.</param>
/// <param name="Gaps">What its records should name and don't.</param>
/// <param name="ToolUses">Tools that its records name.</param>
/// <param name="Nonconformances">What is or was to be decided about it.</param>
public sealed record UnitAnswer(
    string Unit,
    string Variant,
    string Revision,
    string Place,
    string? Consignee,
    DateOnly? EndedDay,
    bool IsScrapped,
    bool PassedFirstTime,
    IReadOnlyList<StepAnswer> Steps,
    IReadOnlyList<FindingAnswer> Findings,
    IReadOnlyList<OpenAnswer> Open,
    IReadOnlyList<ContentAnswer> Contents,
    IReadOnlyList<UsageAnswer> Usages,
    IReadOnlyList<GapAnswer> Gaps,
    IReadOnlyList<ToolUseAnswer> ToolUses,
    IReadOnlyList<NonconformanceAnswer> Nonconformances);

/// <summary>A proportion with its count and Wilson 95 % interval; undefined, not zero, when nothing was counted.</summary>
public sealed record ShareAnswer(int Good, int Of)
{
    /// <summary>The share; null when nothing was counted.</summary>
    public double? Value => Of == 0 ? null : (double)Good / Of;

    /// <summary>The interval; null when nothing was counted.</summary>
    public (double Lower, double Upper)? Interval => Of == 0 ? null : Wilson.Interval(Good, Of);

    /// <summary>The two counted together.</summary>
    public static ShareAnswer operator +(ShareAnswer a, ShareAnswer b) => new(a.Good + b.Good, a.Of + b.Of);
}

/// <summary>What is counted apart in the first-pass yield of a step.</summary>
public sealed record StepYieldKey(string Item, string Step, DateOnly Day, string Station, string Variant, string Revision);

/// <summary>What is counted apart in the first-pass yield of units.</summary>
public sealed record UnitYieldKey(string Item, DateOnly Day, string Variant, string Revision);

/// <summary>How surely a suspect lot reaches a unit.</summary>
public enum ScopeVerdict
{
    /// <summary>Every record names another one.</summary>
    Cleared,

    /// <summary>A record that should say is missing or says one of several.</summary>
    Possible,

    /// <summary>A record says so.</summary>
    Proven,
}

/// <summary>A unit that a suspect lot or container reaches.</summary>
/// <param name="Unit">The unit.</param>
/// <param name="Verdict">How surely it was ever exposed.</param>
/// <param name="Now">How surely it is now; less where what exposed it was taken out.</param>
/// <param name="Place">Where it is.</param>
public sealed record ScopeMember(string Unit, ScopeVerdict Verdict, ScopeVerdict Now, string Place);
