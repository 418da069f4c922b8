using Traceability.Contracts.Facts;

namespace Traceability.Contracts;

/// <summary>May this unit start this step here, now, with these materials and tools?</summary>
public sealed record ReadinessQuestion
{
    /// <summary>The code of the station that asks.</summary>
    public string? Station { get; init; }

    /// <summary>The code of the person who would do it.</summary>
    public string? Person { get; init; }

    /// <summary>The code of the person who would watch over the work; null: nobody.</summary>
    public string? Supervisor { get; init; }

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

    /// <summary>What these times assume where they depend on temperature, a sentence for each rule; empty where they rest on readings alone.</summary>
    public IReadOnlyList<string> Assumptions { get; init; } = [];

    /// <summary>Until when the mixes and opened containers that are offered may be used, each with what that assumes.</summary>
    public IReadOnlyList<MaterialLife> Lives { get; init; } = [];

    /// <summary>Until when the intervals that run and have a maximum must end with this step, such as an open time, each with what that assumes.</summary>
    public IReadOnlyList<IntervalDeadline> Deadlines { get; init; } = [];

    /// <summary>The revision of the routing that applies; null if none does.</summary>
    public string? Revision { get; init; }

    /// <summary>Which attempt it would be, from 1.</summary>
    public required int Attempt { get; init; }

    /// <summary>What may be missing from it; a record that can't be read stands among the reasons, too.</summary>
    public required Completeness Completeness { get; init; }

    /// <summary>The step as it applies to this unit; null where the revision does not have it.</summary>
    public StepNeeds? Needs { get; init; }
}

/// <summary>Until when an interval that runs must end by its maximum.</summary>
/// <param name="Rule">The interval rule's code.</param>
/// <param name="Name">What it is for.</param>
/// <param name="EndsAt">Which moment of the step ends it: started, completed or mark.</param>
/// <param name="StartedAt">When it started.</param>
/// <param name="Until">Until when, less the uncertainty of the clock that told the start; null: no time can be told, and the assumption says why.</param>
/// <param name="Assumption">What the time assumes where it depends on temperature; null: it is by the clock.</param>
public sealed record IntervalDeadline(string Rule, string Name, string EndsAt, DateTimeOffset StartedAt, DateTimeOffset? Until, string? Assumption);

/// <summary>Until when a mix or an opened container may be used.</summary>
/// <param name="What">Which time it is: pot life, or life after opening.</param>
/// <param name="Item">Item number.</param>
/// <param name="Lot">Lot number.</param>
/// <param name="Container">The container; null for a mix.</param>
/// <param name="StartedAt">When it was mixed or opened.</param>
/// <param name="Until">Until when; null: no time can be told, and the assumption says why.</param>
/// <param name="Assumption">What the time assumes, for a person; null: it is by the clock.</param>
public sealed record MaterialLife(string What, string Item, string Lot, string? Container, DateTimeOffset StartedAt, DateTimeOffset? Until, string? Assumption);

/// <summary>What a step asks for on one unit.</summary>
public sealed record StepNeeds
{
    /// <summary>What is done, in words.</summary>
    public required string Name { get; init; }

    /// <summary>What the person must be qualified for; null: nothing.</summary>
    public string? Qualification { get; init; }

    /// <summary>Whether a person without the qualification may do it under the eyes of one who has it.</summary>
    public bool AllowsSupervised { get; init; }

    /// <summary>Lots to use.</summary>
    public required IReadOnlyList<MaterialNeed> Materials { get; init; }

    /// <summary>Component units to put in.</summary>
    public required IReadOnlyList<ComponentNeed> Components { get; init; }

    /// <summary>Tools to use.</summary>
    public required IReadOnlyList<ToolNeed> Tools { get; init; }

    /// <summary>What to measure or check, with limits worked out as far as their values are recorded.</summary>
    public required IReadOnlyList<CharacteristicNeed> Characteristics { get; init; }
}

/// <summary>A material that a step uses.</summary>
/// <param name="Code">Code of the requirement.</param>
/// <param name="Item">The item.</param>
/// <param name="Alternatives">Items approved in its place.</param>
/// <param name="Tracing">What is to be recorded: lot, container or none.</param>
/// <param name="QuantityMin">The least quantity, if one is set.</param>
/// <param name="QuantityMax">The most, if one is set.</param>
public sealed record MaterialNeed(
    string Code, string Item, IReadOnlyList<string> Alternatives, Tracing Tracing, QuantityValue? QuantityMin, QuantityValue? QuantityMax);

/// <summary>A component unit that a step puts in.</summary>
/// <param name="Position">Where.</param>
/// <param name="Item">The item.</param>
/// <param name="Alternatives">Items approved in its place.</param>
public sealed record ComponentNeed(string Position, string Item, IReadOnlyList<string> Alternatives);

/// <summary>A tool that a step needs.</summary>
/// <param name="Code">Code of the requirement.</param>
/// <param name="ToolClass">The class of tool.</param>
/// <param name="Setting">The setting prescribed for the joint; null: none.</param>
public sealed record ToolNeed(string Code, string ToolClass, string? Setting);

/// <summary>A characteristic with its limits for this unit.</summary>
/// <param name="Code">Its code.</param>
/// <param name="Name">What is measured or checked, in words.</param>
/// <param name="Unit">UCUM code of the limits; null for a pass/fail check.</param>
/// <param name="Lower">The lower limit in that unit; null: none, or not known yet.</param>
/// <param name="Upper">The upper limit in that unit; null: none, or not known yet.</param>
/// <param name="GuardBand">Taken off both limits for measurement uncertainty, in that unit.</param>
/// <param name="IsRequired">Whether it must be present.</param>
/// <param name="AreLimitsKnown">Whether every value that a limit depends on is recorded.</param>
public sealed record CharacteristicNeed(
    string Code, string Name, string? Unit, decimal? Lower, decimal? Upper, decimal GuardBand, bool IsRequired, bool AreLimitsKnown);

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
