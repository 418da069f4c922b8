using Traceability.Contracts.Facts;

namespace Traceability.Contracts;

/// <summary>May this unit start this step here, now, with these materials and tools?</summary>
public sealed record ReadinessQuestion
{
    /// <summary>The code of the station that asks.</summary>
    public string? Station { get; init; }

    /// <summary>The code of the person who would do it.</summary>
    public string? Person { get; init; }

    /// <summary>Whether it would redo work.</summary>
    public bool IsRework { get; init; }

    /// <summary>The lots at hand.</summary>
    public IReadOnlyList<MaterialUse>? Materials { get; init; }

    /// <summary>The tools at hand.</summary>
    public IReadOnlyList<ToolUse>? Tools { get; init; }

    /// <summary>The component units at hand.</summary>
    public IReadOnlyList<ComponentUse>? Components { get; init; }
}

/// <summary>The short answer to a <see cref="ReadinessQuestion"/>.</summary>
public enum ReadinessVerdict
{
    /// <summary>No rule that was checked stands against it.</summary>
    Go,

    /// <summary>Only time stands against it: ask again at <see cref="ReadinessAnswer.WaitUntil"/>.</summary>
    Wait,

    /// <summary>Something else stands against it: <see cref="ReadinessAnswer.Reasons"/>.</summary>
    No,
}

/// <summary>The answer to a <see cref="ReadinessQuestion"/>, with every reason at once.</summary>
public sealed record ReadinessAnswer
{
    /// <summary>The unit.</summary>
    public required UnitRef Unit { get; init; }

    /// <summary>The step's code.</summary>
    public required string Step { get; init; }

    /// <summary>The moment that the answer is for, by the service's clock.</summary>
    public required DateTimeOffset AskedAt { get; init; }

    /// <summary>The short answer.</summary>
    public required ReadinessVerdict Answer { get; init; }

    /// <summary>With wait: the earliest moment at which nothing stands against it.</summary>
    public DateTimeOffset? WaitUntil { get; init; }

    /// <summary>Everything that stands against it.</summary>
    public required IReadOnlyList<ReadinessReason> Reasons { get; init; }

    /// <summary>What to show before the step starts.</summary>
    public required IReadOnlyList<string> Cautions { get; init; }

    /// <summary>The earliest moment at which the step may be completed, where an interval sets one.</summary>
    public DateTimeOffset? EarliestCompletion { get; init; }

    /// <summary>The latest moment at which the step should be completed, where an interval sets one.</summary>
    public DateTimeOffset? LatestCompletion { get; init; }

    /// <summary>The step as it applies to this unit: what to measure, use and put in; null where no step applies.</summary>
    public RoutingStep? Requirements { get; init; }
}

/// <summary>One thing that stands against starting a step.</summary>
public sealed record ReadinessReason
{
    /// <summary>What it is: a code of contracts/findings.json.</summary>
    public required string Kind { get; init; }

    /// <summary>The part of the routing; empty if none.</summary>
    public required string Rule { get; init; }

    /// <summary>Whether it stops the step, or is only told.</summary>
    public required Enforcement Enforcement { get; init; }

    /// <summary>The sentence for the person at the station.</summary>
    public required string Message { get; init; }

    /// <summary>When it stops standing against it, if waiting helps.</summary>
    public DateTimeOffset? ClearsAt { get; init; }
}
