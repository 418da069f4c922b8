using Traceability.Domain.Primitives;

namespace Traceability.Domain.Routings;

/// <summary>One revision of the routing of an item: its steps and the intervals between them.</summary>
/// <param name="Item">The item that is built.</param>
/// <param name="Revision">The revision.</param>
/// <param name="Description">What changed, in words.</param>
/// <param name="Effectivity">Which units it applies to.</param>
/// <param name="Steps">The steps, in the order in which they are usually done.</param>
/// <param name="Intervals">Rules on the time between two milestones.</param>
public sealed record RoutingRevision(
    ItemNumber Item,
    RevisionCode Revision,
    string Description,
    Effectivity Effectivity,
    ImmutableArray<Step> Steps,
    ImmutableArray<IntervalRule> Intervals)
{
    /// <summary>The step with this code, or null.</summary>
    public Step? Find(StepCode code) => Steps.FirstOrDefault(s => s.Code == code);
}

/// <summary>Which units something applies to: all that are given must hold; empty or null means any.</summary>
/// <param name="Variants">The unit's variant is one of these.</param>
/// <param name="Options">The unit has every one of these options.</param>
/// <param name="SerialFrom">The unit's serial is this or later.</param>
/// <param name="SerialTo">The unit's serial is this or earlier.</param>
/// <param name="OpenedFrom">The unit was opened at this time or later.</param>
/// <param name="OpenedBefore">The unit was opened before this time.</param>
/// <remarks>Serials are ordered by length, then by character, so that numbers without leading zeros come in order.</remarks>
public sealed record Effectivity(
    ImmutableArray<VariantCode> Variants,
    ImmutableArray<Code> Options,
    SerialNumber? SerialFrom,
    SerialNumber? SerialTo,
    DateTimeOffset? OpenedFrom,
    DateTimeOffset? OpenedBefore)
{
    /// <summary>Applies to every unit.</summary>
    public static Effectivity Always { get; } = new([], [], null, null, null, null);

    /// <summary>Whether it applies to such a unit.</summary>
    public bool AppliesTo(SerialNumber serial, VariantCode? variant, ImmutableArray<Code> options, DateTimeOffset openedAt) =>
        (Variants.IsEmpty || (variant is { } v && Variants.Contains(v)))
        && Options.All(options.Contains)
        && (SerialFrom is not { } from || Compare(serial, from) >= 0)
        && (SerialTo is not { } to || Compare(serial, to) <= 0)
        && (OpenedFrom is not { } start || openedAt >= start)
        && (OpenedBefore is not { } end || openedAt < end);

    /// <summary>The order of serials: by length, then by character.</summary>
    public static int Compare(SerialNumber a, SerialNumber b)
    {
        var byLength = a.Value.Length.CompareTo(b.Value.Length);
        return byLength != 0 ? byLength : string.CompareOrdinal(a.Value, b.Value);
    }
}

/// <summary>One assembly or inspection operation.</summary>
/// <param name="Code">Its code, the same over revisions.</param>
/// <param name="Name">What is done, in words.</param>
/// <param name="AppliesTo">Which units have this step.</param>
/// <param name="Prerequisites">Steps that must be done and passed before this one starts.</param>
/// <param name="IsPointOfNoReturn">It can't be undone.</param>
/// <param name="Hides">Steps whose results it hides, to be proven before it starts; empty at a point of no return: every earlier step.</param>
/// <param name="Cautions">Shown before the step starts.</param>
/// <param name="Stations">Where it may be done; empty: anywhere.</param>
/// <param name="Qualification">What the person must be qualified for; null: nothing.</param>
/// <param name="Characteristics">What is measured or checked.</param>
/// <param name="Materials">What is used up.</param>
/// <param name="Components">Which units are put in.</param>
/// <param name="Tools">Which tools are used.</param>
/// <param name="OrderPolicy">How a break of the order rules is treated; null: stop, not a defect.</param>
public sealed record Step(
    StepCode Code,
    string Name,
    Effectivity AppliesTo,
    ImmutableArray<StepCode> Prerequisites,
    bool IsPointOfNoReturn,
    ImmutableArray<StepCode> Hides,
    ImmutableArray<string> Cautions,
    ImmutableArray<StationCode> Stations,
    Code? Qualification,
    ImmutableArray<Characteristic> Characteristics,
    ImmutableArray<MaterialRequirement> Materials,
    ImmutableArray<ComponentRequirement> Components,
    ImmutableArray<ToolRequirement> Tools,
    RulePolicy? OrderPolicy)
{
    /// <summary>Whether a person without the qualification may do it while one who has it is named as the supervisor; null: no.</summary>
    public bool? AllowsSupervised { get; init; }
}

/// <summary>What happens when a rule is broken.</summary>
/// <param name="Enforcement">Whether a terminal that asks first is told no.</param>
/// <param name="CountsAsDefect">Whether the step's attempt counts as failed in yields.</param>
public sealed record RulePolicy(Enforcement Enforcement, bool CountsAsDefect);

/// <summary>Whether a terminal that asks first is told no.</summary>
public enum Enforcement
{
    /// <summary>Recorded, with a finding.</summary>
    Flag,

    /// <summary>A terminal that asks first is told no; what is reported all the same is recorded, with a finding.</summary>
    Stop,
}

/// <summary>A measured value with unit and limits, or a pass/fail check.</summary>
/// <param name="Code">Its code within the step.</param>
/// <param name="Name">What is measured or checked, in words.</param>
/// <param name="Unit">UCUM code of the limits; null for a pass/fail check.</param>
/// <param name="Lower">The lower limit; null: none.</param>
/// <param name="Upper">The upper limit; null: none.</param>
/// <param name="GuardBand">Taken off both limits for measurement uncertainty (ISO 14253-1), in <paramref name="Unit"/>; zero: none.</param>
/// <param name="IsRequired">Whether it must be present.</param>
/// <param name="Policy">Null: stop, a defect when broken.</param>
public sealed record Characteristic(
    Code Code, string Name, string? Unit, Limit? Lower, Limit? Upper, decimal GuardBand, bool IsRequired, RulePolicy? Policy)
{
    /// <summary>Whether it is a pass/fail check.</summary>
    public bool IsCheck => Unit is null;
}

/// <summary>A limit: a constant plus a linear combination of values measured on this unit or on its components.</summary>
/// <param name="Constant">The constant, in the characteristic's unit.</param>
/// <param name="Terms">The terms; empty for a fixed limit.</param>
public sealed record Limit(decimal Constant, ImmutableArray<LimitTerm> Terms);

/// <summary>One measured value times a factor.</summary>
/// <param name="Factor">The factor, a bare number: the value is converted to the characteristic's unit first.</param>
/// <param name="Position">The component that the value was measured on; null: this unit.</param>
/// <param name="Step">The step that measured it.</param>
/// <param name="Characteristic">The characteristic measured.</param>
public sealed record LimitTerm(decimal Factor, Code? Position, StepCode Step, Code Characteristic);

/// <summary>How closely a material is traced.</summary>
public enum Tracing
{
    /// <summary>The lot must be recorded.</summary>
    Lot,

    /// <summary>The lot and the container must be recorded.</summary>
    Container,

    /// <summary>Nothing is recorded; the requirement is for information.</summary>
    None,
}

/// <summary>Material that a step uses.</summary>
/// <param name="Code">Its code within the step.</param>
/// <param name="Item">The item.</param>
/// <param name="Alternatives">Items approved in its place.</param>
/// <param name="Tracing">How closely it is traced.</param>
/// <param name="QuantityMin">The least quantity, if one is set; with its unit.</param>
/// <param name="QuantityMax">The most, if one is set; with its unit.</param>
/// <param name="AppliesTo">Which units need it.</param>
/// <param name="Policy">Null: the default of each rule.</param>
public sealed record MaterialRequirement(
    Code Code,
    ItemNumber Item,
    ImmutableArray<ItemNumber> Alternatives,
    Tracing Tracing,
    EnteredQuantity? QuantityMin,
    EnteredQuantity? QuantityMax,
    Effectivity AppliesTo,
    RulePolicy? Policy)
{
    /// <summary>Whether the item may be used here.</summary>
    public bool Accepts(ItemNumber item) => item == Item || Alternatives.Contains(item);
}

/// <summary>A component unit that a step puts in.</summary>
/// <param name="Position">Where; unique within the unit.</param>
/// <param name="Item">The item.</param>
/// <param name="Alternatives">Items approved in its place.</param>
/// <param name="AppliesTo">Which units need it.</param>
/// <param name="MustBeReleased">Whether the component must have been released before it is put in.</param>
/// <param name="Policy">Null: the default of each rule.</param>
public sealed record ComponentRequirement(
    Code Position,
    ItemNumber Item,
    ImmutableArray<ItemNumber> Alternatives,
    Effectivity AppliesTo,
    bool MustBeReleased,
    RulePolicy? Policy)
{
    /// <summary>Whether the item may be used here.</summary>
    public bool Accepts(ItemNumber item) => item == Item || Alternatives.Contains(item);
}

/// <summary>A tool that a step needs.</summary>
/// <param name="Code">Its code within the step.</param>
/// <param name="ToolClass">The class of tool.</param>
/// <param name="Setting">The setting prescribed for the joint; null: none.</param>
/// <param name="TorqueMin">The least verified torque of that setting of that tool; null: not asked.</param>
/// <param name="TorqueMax">The most; null: not asked.</param>
/// <param name="Policy">Null: the default of each rule.</param>
public sealed record ToolRequirement(
    Code Code, Code ToolClass, Code? Setting, EnteredQuantity? TorqueMin, EnteredQuantity? TorqueMax, RulePolicy? Policy);

/// <summary>A rule on the time between two milestones: cure, open time, soak, transfer, cool-down, pot life.</summary>
/// <param name="Code">Its code within the revision.</param>
/// <param name="Name">What it is for, in words.</param>
/// <param name="From">The milestone that starts it.</param>
/// <param name="To">The milestone that ends it.</param>
/// <param name="Minimum">Ending earlier breaks it; null: no minimum.</param>
/// <param name="Maximum">Ending later breaks it; null: no maximum.</param>
/// <param name="AppliesTo">Which units it holds for.</param>
/// <param name="Policy">Null: stop, a defect when broken.</param>
public sealed record IntervalRule(
    Code Code,
    string Name,
    Milestone From,
    Milestone To,
    TimeSpan? Minimum,
    TimeSpan? Maximum,
    Effectivity AppliesTo,
    RulePolicy? Policy)
{
    /// <summary>Makes the minimum depend on temperature, in place of <see cref="Minimum"/>; null: it doesn't.</summary>
    public CureCondition? Temperature { get; init; }

    /// <summary>
    /// The material requirement of the step that starts the interval whose open time is the maximum, by the table of the recorded item;
    /// <see cref="Maximum"/> holds where no readings or no table tell of it. Null: the maximum is by the clock.
    /// </summary>
    public Code? OpenTimeOf { get; init; }
}

/// <summary>A moment that interval rules refer to.</summary>
/// <param name="Step">The step.</param>
/// <param name="Kind">Which moment of it.</param>
/// <param name="Name">The mark's name, or the material requirement whose container is meant.</param>
public sealed record Milestone(StepCode Step, MilestoneKind Kind, Code? Name);

/// <summary>The kinds of milestone.</summary>
public enum MilestoneKind
{
    /// <summary>The step started.</summary>
    Started,

    /// <summary>The step was completed.</summary>
    Completed,

    /// <summary>A named moment within the step, such as oven-in.</summary>
    Mark,

    /// <summary>The container that the step used was opened.</summary>
    ContainerOpened,
}
