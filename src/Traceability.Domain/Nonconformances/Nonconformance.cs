using Traceability.Domain.Judging;
using Traceability.Domain.Primitives;

namespace Traceability.Domain.Nonconformances;

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

    /// <summary>What was decided is done; nothing is left to do.</summary>
    Closed,

    /// <summary>What it rested on is gone: the finding by a correction or a late fact, the report by a void.</summary>
    Moot,
}

/// <summary>A finding, or a defect that a person reported, under decision: a pure function of the unit's facts and references.</summary>
/// <param name="Id">Its name within the unit.</param>
/// <param name="State">How far it has come.</param>
/// <param name="Kind">The kind of the finding, or <see cref="NonconformanceRules.Reported"/>.</param>
/// <param name="Rule">The rule that was broken, or the defect code.</param>
/// <param name="Step">The step; null where none is known.</param>
/// <param name="Attempt">The attempt as it is numbered now; 0 where there is none.</param>
/// <param name="Record">The fact that it rests on.</param>
/// <param name="At">When that happened.</param>
/// <param name="Message">What was recorded against which rule, or what the person saw.</param>
public sealed record Nonconformance(
    NonconformanceId Id,
    NonconformanceState State,
    string Kind,
    string Rule,
    StepCode? Step,
    int Attempt,
    Guid Record,
    DateTimeOffset At,
    string Message)
{
    /// <summary>The decision that counts; null while there is none, and where another one's concession covers it.</summary>
    public Disposition? Disposition { get; init; }

    /// <summary>The fact that took it up or disposed of it, whichever was last; null while there is none.</summary>
    public Guid? Decision { get; init; }

    /// <summary>When that was decided.</summary>
    public DateTimeOffset? DecidedAt { get; init; }

    /// <summary>Who decided it.</summary>
    public PersonCode? DecidedBy { get; init; }

    /// <summary>The concession that covers it.</summary>
    public Code? Concession { get; init; }

    /// <summary>Steps that are still to be done again, in the order of the routing.</summary>
    public ImmutableArray<StepCode> Awaited { get; init; } = [];

    /// <summary>When it was settled or closed.</summary>
    public DateTimeOffset? EndedAt { get; init; }

    /// <summary>The fact that settled or closed it.</summary>
    public Guid? EndedBy { get; init; }

    /// <summary>Whether it keeps its unit from being released.</summary>
    public bool IsOpen => State is NonconformanceState.Open or NonconformanceState.UnderDecision or NonconformanceState.Disposed;
}

/// <summary>Which findings are nonconformances, and which nonconformances are open.</summary>
public static class NonconformanceRules
{
    /// <summary>The kind of a nonconformance that a person reported.</summary>
    public const string Reported = "nonconformance-reported";

    /// <summary>Whether a finding is a nonconformance by itself: one that counts as a defect, on a record of the unit.</summary>
    /// <remarks>
    /// A finding that doesn't count as a defect says that evidence is missing or unclear. That is asked for again or looked into;
    /// a person who takes it for more reports a nonconformance.
    /// </remarks>
    public static bool IsNonconformance(Finding finding)
    {
        ArgumentNullException.ThrowIfNull(finding);
        return finding.Policy.CountsAsDefect && finding.Record != Guid.Empty;
    }

    /// <summary>The open nonconformances of a unit: each of them keeps it from being released.</summary>
    public static ImmutableArray<Nonconformance> OpenOf(UnitJudgement judgement)
    {
        ArgumentNullException.ThrowIfNull(judgement);
        return [.. judgement.Nonconformances.Where(n => n.IsOpen)];
    }
}
