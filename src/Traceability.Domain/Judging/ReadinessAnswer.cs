using Traceability.Domain.Primitives;
using Traceability.Domain.ProductUnits;
using Traceability.Domain.Routings;

namespace Traceability.Domain.Judging;

/// <summary>May this unit start this step, here, now, with these materials, tools and components?</summary>
/// <param name="Step">The step.</param>
/// <param name="Station">Where.</param>
/// <param name="Person">Who.</param>
/// <param name="Materials">What is at hand; empty: nothing is offered yet, so what is needed is only listed.</param>
/// <param name="Tools">The same for tools.</param>
/// <param name="Components">The same for components.</param>
/// <param name="At">When the work would start, by the service's clock.</param>
public sealed record ReadinessQuestion(
    StepCode Step,
    StationCode? Station,
    PersonCode? Person,
    ImmutableArray<MaterialUse> Materials,
    ImmutableArray<ToolUse> Tools,
    ImmutableArray<ComponentUse> Components,
    DateTimeOffset At)
{
    /// <summary>Who would watch over the person; null: nobody.</summary>
    public PersonCode? Supervisor { get; init; }
}

/// <summary>The answers.</summary>
public enum ReadinessVerdict
{
    /// <summary>No rule that stops is broken by starting now.</summary>
    Go,

    /// <summary>Nothing but a minimum time is in the way.</summary>
    Wait,

    /// <summary>A rule that stops would be broken.</summary>
    No,
}

/// <summary>What was recorded against which rule, and what follows: never that something is safe.</summary>
/// <param name="Step">The step.</param>
/// <param name="Verdict">The answer.</param>
/// <param name="WaitUntil">With <see cref="ReadinessVerdict.Wait"/>: from when on every minimum is met, the clocks' uncertainty included.</param>
/// <param name="EarliestCompletion">From when on completing meets every minimum that ends there; null if none is known yet.</param>
/// <param name="Reasons">Every rule that would be broken, also those that only flag.</param>
/// <param name="Revision">The revision that applies; null if none does.</param>
/// <param name="Attempt">Which attempt it would be.</param>
/// <param name="Needs">What the step asks for; null if the revision doesn't have it.</param>
public sealed record ReadinessAnswer(
    StepCode Step,
    ReadinessVerdict Verdict,
    DateTimeOffset? WaitUntil,
    DateTimeOffset? EarliestCompletion,
    ImmutableArray<ReadinessReason> Reasons,
    RevisionCode? Revision,
    int Attempt,
    StepNeeds? Needs)
{
    /// <summary>What the times of minima that depend on temperature assume, for a person; empty where they rest on readings alone.</summary>
    public ImmutableArray<string> Assumptions { get; init; } = [];

    /// <summary>Until when the mixes and opened containers that are offered may be used.</summary>
    public ImmutableArray<MaterialLife> Lives { get; init; } = [];

    /// <summary>Until when the intervals that run and have a maximum must end.</summary>
    public ImmutableArray<IntervalDeadline> Deadlines { get; init; } = [];
}

/// <summary>Until when an interval that runs must end by its maximum, such as an open time.</summary>
/// <param name="Rule">The interval rule.</param>
/// <param name="Name">What it is for.</param>
/// <param name="EndsAt">Which moment of the step ends it.</param>
/// <param name="StartedAt">When it started.</param>
/// <param name="Until">Until when, less the uncertainty of the clock that told the start; null: no time can be told, and the assumption says why.</param>
/// <param name="Assumption">What the time assumes; null: nothing, it is by the clock.</param>
public sealed record IntervalDeadline(Code Rule, string Name, MilestoneKind EndsAt, DateTimeOffset StartedAt, DateTimeOffset? Until, string? Assumption);

/// <summary>Until when a mix or an opened container may be used.</summary>
/// <param name="What">Which time it is, for a person: pot life, life after opening.</param>
/// <param name="Lot">The lot.</param>
/// <param name="Container">The container; null for a mix.</param>
/// <param name="StartedAt">When it was mixed or opened.</param>
/// <param name="Until">Until when; null: no time can be told, and the assumption says why.</param>
/// <param name="Assumption">What the time assumes; null: nothing, it is by the clock.</param>
public sealed record MaterialLife(string What, LotKey Lot, ContainerNumber? Container, DateTimeOffset StartedAt, DateTimeOffset? Until, string? Assumption);

/// <summary>One rule that would be broken.</summary>
/// <param name="Kind">A code of <see cref="FindingKinds"/>.</param>
/// <param name="Rule">The part of the routing; "" if none.</param>
/// <param name="Message">For a person.</param>
/// <param name="Enforcement">Whether it stops.</param>
/// <param name="Until">For a minimum time: when it is met.</param>
public sealed record ReadinessReason(string Kind, string Rule, string Message, Enforcement Enforcement, DateTimeOffset? Until);

/// <summary>What a step asks for on this unit.</summary>
/// <param name="Name">The step's name.</param>
/// <param name="Cautions">To be shown before the step starts.</param>
/// <param name="Qualification">What the person must be qualified for.</param>
/// <param name="Materials">What is used up on this unit.</param>
/// <param name="Components">What is put in on this unit.</param>
/// <param name="Tools">The tools.</param>
/// <param name="Characteristics">What is measured or checked, limits worked out as far as their values are recorded.</param>
public sealed record StepNeeds(
    string Name,
    ImmutableArray<string> Cautions,
    Code? Qualification,
    ImmutableArray<MaterialRequirement> Materials,
    ImmutableArray<ComponentRequirement> Components,
    ImmutableArray<ToolRequirement> Tools,
    ImmutableArray<CharacteristicNeed> Characteristics)
{
    /// <summary>Whether a person without the qualification may do it under the eyes of one who has it.</summary>
    public bool AllowsSupervised { get; init; }
}

/// <summary>A characteristic with its limits for this unit.</summary>
/// <param name="Code">Its code.</param>
/// <param name="Name">What is measured or checked.</param>
/// <param name="Unit">UCUM code of the limits; null for a check.</param>
/// <param name="Lower">The lower limit; null: none, or not known yet.</param>
/// <param name="Upper">The upper limit; null: none, or not known yet.</param>
/// <param name="GuardBand">Taken off both limits.</param>
/// <param name="IsRequired">Whether it must be present.</param>
/// <param name="AreLimitsKnown">Whether every value that a limit depends on is recorded.</param>
public sealed record CharacteristicNeed(
    Code Code, string Name, string? Unit, decimal? Lower, decimal? Upper, decimal GuardBand, bool IsRequired, bool AreLimitsKnown);
