using Traceability.Contracts.Facts;
using Traceability.Contracts.Units;

namespace Traceability.Contracts.Nonconformances;

/// <summary>How far a nonconformance has come.</summary>
public enum NonconformanceState
{
    /// <summary>Nobody has decided about it.</summary>
    Open,

    /// <summary>Nobody has decided about it, and a later attempt at the step passed, or the component that it is about was taken out.</summary>
    Settled,

    /// <summary>A person is deciding about it.</summary>
    UnderDecision,

    /// <summary>It is decided, and what was decided is not done yet.</summary>
    Disposed,

    /// <summary>What was decided is done.</summary>
    Closed,

    /// <summary>What it rested on is gone: the finding by a correction or a late fact, the report by a void.</summary>
    Moot,
}

/// <summary>A finding, or a defect that a person reported, under decision.</summary>
public sealed record Nonconformance
{
    /// <summary>The unit.</summary>
    public required UnitRef Unit { get; init; }

    /// <summary>Its id within the unit.</summary>
    public required string Id { get; init; }

    /// <summary>How far it has come.</summary>
    public required NonconformanceState State { get; init; }

    /// <summary>Whether it keeps the unit from being released: open, under decision, or disposed and not done.</summary>
    public required bool IsOpen { get; init; }

    /// <summary>The kind of the finding, listed in contracts/findings.json, or nonconformance-reported.</summary>
    public required string Kind { get; init; }

    /// <summary>The part of the routing that was broken, or the defect code.</summary>
    public required string Rule { get; init; }

    /// <summary>The step's code; null where none is known.</summary>
    public string? Step { get; init; }

    /// <summary>The attempt at the step, from 1; 0 where there is none.</summary>
    public required int Attempt { get; init; }

    /// <summary>The id of the fact that it rests on.</summary>
    public required Guid Record { get; init; }

    /// <summary>When that happened, corrected by the clock's offset.</summary>
    public required DateTimeOffset At { get; init; }

    /// <summary>What was recorded against which rule, or what the person saw.</summary>
    public required string Message { get; init; }

    /// <summary>What was decided; null while nothing is.</summary>
    public Disposition? Disposition { get; init; }

    /// <summary>The id of the fact that took it up or disposed of it, whichever was last.</summary>
    public Guid? Decision { get; init; }

    /// <summary>When that was decided.</summary>
    public DateTimeOffset? DecidedAt { get; init; }

    /// <summary>The code of the person who decided it.</summary>
    public string? DecidedBy { get; init; }

    /// <summary>The number of the concession that covers it.</summary>
    public string? Concession { get; init; }

    /// <summary>Codes of the steps that are still to be done again.</summary>
    public required IReadOnlyList<string> Awaited { get; init; }

    /// <summary>When it was settled or closed.</summary>
    public DateTimeOffset? EndedAt { get; init; }

    /// <summary>The id of the fact that settled or closed it.</summary>
    public Guid? EndedBy { get; init; }
}

/// <summary>A page of nonconformances, newest first.</summary>
/// <param name="AsOf">When the page was taken (RFC 3339, UTC).</param>
/// <param name="Nonconformances">The nonconformances, by when what they rest on happened.</param>
/// <param name="After">Give this as "after" to get the next page; null on the last.</param>
/// <param name="Completeness">What may be missing from it.</param>
public sealed record NonconformancePage(DateTimeOffset AsOf, IReadOnlyList<Nonconformance> Nonconformances, string? After, Completeness Completeness);

/// <summary>One nonconformance with everything that was recorded about it, judged at the moment of asking.</summary>
/// <param name="AsOf">When the answer was made.</param>
/// <param name="Nonconformance">How it stands.</param>
/// <param name="History">The record that it rests on, the decisions, what corrected or voided any of them, and what closed it, in order of arrival.</param>
/// <param name="Completeness">What may be missing from it.</param>
public sealed record NonconformanceView(DateTimeOffset AsOf, Nonconformance Nonconformance, IReadOnlyList<RecordedFactView> History, Completeness Completeness);
