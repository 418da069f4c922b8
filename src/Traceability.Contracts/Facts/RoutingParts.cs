namespace Traceability.Contracts.Facts;

/// <summary>One revision of the routing of an item: its steps and the intervals between them.</summary>
public sealed record RoutingRevision
{
    /// <summary>The item that is built.</summary>
    public required string Item { get; init; }

    /// <summary>The revision; 1 to 12 characters.</summary>
    public required string Revision { get; init; }

    /// <summary>What changed, in words.</summary>
    public required string Description { get; init; }

    /// <summary>Which units it applies to; null: all.</summary>
    public Effectivity? Effectivity { get; init; }

    /// <summary>The steps, at least one, in the order in which they are usually done.</summary>
    public required IReadOnlyList<RoutingStep> Steps { get; init; }

    /// <summary>Rules on the time between two milestones.</summary>
    public IReadOnlyList<IntervalRule>? Intervals { get; init; }
}

/// <summary>Which units something applies to: all that are given must hold; none or null means any.</summary>
public sealed record Effectivity
{
    /// <summary>The unit's variant is one of these.</summary>
    public IReadOnlyList<string>? Variants { get; init; }

    /// <summary>The unit has every one of these options.</summary>
    public IReadOnlyList<string>? Options { get; init; }

    /// <summary>The unit's serial is this or later (ordered by length, then by character).</summary>
    public string? SerialFrom { get; init; }

    /// <summary>The unit's serial is this or earlier.</summary>
    public string? SerialTo { get; init; }

    /// <summary>The unit was opened at this time or later.</summary>
    public DateTimeOffset? OpenedFrom { get; init; }

    /// <summary>The unit was opened before this time.</summary>
    public DateTimeOffset? OpenedBefore { get; init; }
}

/// <summary>One assembly or inspection operation.</summary>
public sealed record RoutingStep
{
    /// <summary>Its code, the same over revisions.</summary>
    public required string Code { get; init; }

    /// <summary>What is done, in words.</summary>
    public required string Name { get; init; }

    /// <summary>Which units have this step; null: all.</summary>
    public Effectivity? AppliesTo { get; init; }

    /// <summary>Codes of steps that must be done and passed before this one starts.</summary>
    public IReadOnlyList<string>? Prerequisites { get; init; }

    /// <summary>It can't be undone.</summary>
    public bool IsPointOfNoReturn { get; init; }

    /// <summary>Codes of steps whose results it hides, to be proven before it starts; none at a point of no return: every earlier step.</summary>
    public IReadOnlyList<string>? Hides { get; init; }

    /// <summary>Shown before the step starts.</summary>
    public IReadOnlyList<string>? Cautions { get; init; }

    /// <summary>Codes of the stations where it may be done; none: anywhere.</summary>
    public IReadOnlyList<string>? Stations { get; init; }

    /// <summary>What the person must be qualified for; null: nothing.</summary>
    public string? Qualification { get; init; }

    /// <summary>Whether a person without the qualification may do it while one who has it is named as the supervisor; null: no.</summary>
    public bool? AllowsSupervised { get; init; }

    /// <summary>What is measured or checked.</summary>
    public IReadOnlyList<Characteristic>? Characteristics { get; init; }

    /// <summary>What is used up.</summary>
    public IReadOnlyList<MaterialRequirement>? Materials { get; init; }

    /// <summary>Which units are put in.</summary>
    public IReadOnlyList<ComponentRequirement>? Components { get; init; }

    /// <summary>Which tools are used.</summary>
    public IReadOnlyList<ToolRequirement>? Tools { get; init; }

    /// <summary>What happens when the order rules are broken; null: stop, not a defect.</summary>
    public RulePolicy? OrderPolicy { get; init; }
}

/// <summary>What happens when a rule is broken.</summary>
public sealed record RulePolicy
{
    /// <summary>Whether a terminal that asks first is told no.</summary>
    public required Enforcement Enforcement { get; init; }

    /// <summary>Whether the step's attempt counts as failed in yields.</summary>
    public required bool CountsAsDefect { get; init; }
}

/// <summary>A measured value with unit and limits, or a pass/fail check.</summary>
public sealed record Characteristic
{
    /// <summary>Its code within the step.</summary>
    public required string Code { get; init; }

    /// <summary>What is measured or checked, in words.</summary>
    public required string Name { get; init; }

    /// <summary>UCUM code of the limits; null for a pass/fail check.</summary>
    public string? Unit { get; init; }

    /// <summary>The lower limit; null: none.</summary>
    public Limit? Lower { get; init; }

    /// <summary>The upper limit; null: none.</summary>
    public Limit? Upper { get; init; }

    /// <summary>Taken off both limits for measurement uncertainty (ISO 14253-1), in Unit; zero: none.</summary>
    public decimal GuardBand { get; init; }

    /// <summary>Whether it must be present.</summary>
    public bool IsRequired { get; init; } = true;

    /// <summary>What happens when it is broken; null: the rule's default.</summary>
    public RulePolicy? Policy { get; init; }
}

/// <summary>A limit: a constant plus a linear combination of values measured on this unit or on its components.</summary>
public sealed record Limit
{
    /// <summary>The constant, in the characteristic's unit.</summary>
    public required decimal Constant { get; init; }

    /// <summary>The terms; none for a fixed limit.</summary>
    public IReadOnlyList<LimitTerm>? Terms { get; init; }
}

/// <summary>One measured value times a factor.</summary>
public sealed record LimitTerm
{
    /// <summary>The factor, a bare number: the value is converted to the characteristic's unit first.</summary>
    public required decimal Factor { get; init; }

    /// <summary>The component that the value was measured on; null: this unit.</summary>
    public string? Position { get; init; }

    /// <summary>The step that measured it.</summary>
    public required string Step { get; init; }

    /// <summary>The characteristic measured.</summary>
    public required string Characteristic { get; init; }
}

/// <summary>Material that a step uses.</summary>
public sealed record MaterialRequirement
{
    /// <summary>Its code within the step.</summary>
    public required string Code { get; init; }

    /// <summary>The item's number.</summary>
    public required string Item { get; init; }

    /// <summary>Numbers of items approved in its place.</summary>
    public IReadOnlyList<string>? Alternatives { get; init; }

    /// <summary>How closely it is traced.</summary>
    public Tracing Tracing { get; init; }

    /// <summary>The least quantity, if one is set.</summary>
    public QuantityValue? QuantityMin { get; init; }

    /// <summary>The most, if one is set.</summary>
    public QuantityValue? QuantityMax { get; init; }

    /// <summary>Which units it holds for; null: all.</summary>
    public Effectivity? AppliesTo { get; init; }

    /// <summary>What happens when it is broken; null: the rule's default.</summary>
    public RulePolicy? Policy { get; init; }
}

/// <summary>A component unit that a step puts in.</summary>
public sealed record ComponentRequirement
{
    /// <summary>Where; unique within the unit.</summary>
    public required string Position { get; init; }

    /// <summary>The item's number.</summary>
    public required string Item { get; init; }

    /// <summary>Numbers of items approved in its place.</summary>
    public IReadOnlyList<string>? Alternatives { get; init; }

    /// <summary>Which units it holds for; null: all.</summary>
    public Effectivity? AppliesTo { get; init; }

    /// <summary>Whether the component must have been released before it is put in.</summary>
    public bool MustBeReleased { get; init; } = true;

    /// <summary>What happens when it is broken; null: the rule's default.</summary>
    public RulePolicy? Policy { get; init; }
}

/// <summary>A tool that a step needs.</summary>
public sealed record ToolRequirement
{
    /// <summary>Its code within the step.</summary>
    public required string Code { get; init; }

    /// <summary>The class of tool.</summary>
    public required string ToolClass { get; init; }

    /// <summary>The setting prescribed for the joint; null: none.</summary>
    public string? Setting { get; init; }

    /// <summary>The least verified torque of that setting of that tool; null: not asked.</summary>
    public QuantityValue? TorqueMin { get; init; }

    /// <summary>The most; null: not asked.</summary>
    public QuantityValue? TorqueMax { get; init; }

    /// <summary>What happens when it is broken; null: the rule's default.</summary>
    public RulePolicy? Policy { get; init; }
}

/// <summary>A rule on the time between two milestones: cure, open time, soak, transfer, cool-down, pot life.</summary>
public sealed record IntervalRule
{
    /// <summary>Its code within the revision.</summary>
    public required string Code { get; init; }

    /// <summary>What it is for, in words.</summary>
    public required string Name { get; init; }

    /// <summary>The milestone that starts it.</summary>
    public required Milestone From { get; init; }

    /// <summary>The milestone that ends it.</summary>
    public required Milestone To { get; init; }

    /// <summary>Ending earlier breaks it; null: no minimum. Written as an ISO 8601 duration.</summary>
    public TimeSpan? Minimum { get; init; }

    /// <summary>Ending later breaks it; null: no maximum. Written as an ISO 8601 duration.</summary>
    public TimeSpan? Maximum { get; init; }

    /// <summary>Makes the minimum depend on temperature, in place of a fixed one; null: it doesn't.</summary>
    public CureCondition? Temperature { get; init; }

    /// <summary>
    /// The code of the material requirement of the step that starts it: the maximum is the open time of the item that was recorded there,
    /// by temperature; Maximum holds where there are no readings, and is needed. Null: the maximum is by the clock.
    /// </summary>
    public string? OpenTimeOf { get; init; }

    /// <summary>Which units it holds for; null: all.</summary>
    public Effectivity? AppliesTo { get; init; }

    /// <summary>What happens when it is broken; null: the rule's default.</summary>
    public RulePolicy? Policy { get; init; }
}

/// <summary>A moment that interval rules refer to.</summary>
public sealed record Milestone
{
    /// <summary>The step's code.</summary>
    public required string Step { get; init; }

    /// <summary>Which moment of it.</summary>
    public required MilestoneKind Kind { get; init; }

    /// <summary>The mark's name, or the material requirement whose container is meant.</summary>
    public string? Name { get; init; }
}

/// <summary>Whether a terminal that asks first is told no.</summary>
public enum Enforcement
{
    /// <summary>Recorded, with a finding.</summary>
    Flag,

    /// <summary>A terminal that asks first is told no; what is reported all the same is recorded, with a finding.</summary>
    Stop,
}

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
