namespace Traceability.Contracts.Facts;

/// <summary>A serial number was given to a unit: from here on it is known.</summary>
public sealed record UnitOpened : FactMessage
{
    /// <summary>The unit.</summary>
    public required UnitRef Unit { get; init; }

    /// <summary>Its variant; null for an item without variants.</summary>
    public string? Variant { get; init; }

    /// <summary>Codes of its options.</summary>
    public IReadOnlyList<string>? Options { get; init; }

    /// <summary>The number of the received lot that it came in, for a serialised part that was bought.</summary>
    public string? Lot { get; init; }

    /// <summary>The number of the batch of its item that it was taken out of, where the part went through steps before it had a serial.</summary>
    public string? Batch { get; init; }
}

/// <summary>Work on a step began.</summary>
public sealed record StepStarted : FactMessage
{
    /// <summary>The unit.</summary>
    public required UnitRef Unit { get; init; }

    /// <summary>The step's code.</summary>
    public required string Step { get; init; }

    /// <summary>The code of the person who watches over the work, where the step allows that; null: nobody.</summary>
    public string? Supervisor { get; init; }
}

/// <summary>A step was completed, with everything that was used, measured and seen. OccurredAt is the completion.</summary>
public sealed record StepCompleted : FactMessage
{
    /// <summary>The unit.</summary>
    public required UnitRef Unit { get; init; }

    /// <summary>The step's code.</summary>
    public required string Step { get; init; }

    /// <summary>When it began, by the terminal's clock, not after OccurredAt; null: the last reported start of the step counts.</summary>
    public DateTimeOffset? StartedAt { get; init; }

    /// <summary>Whether this attempt redid work; a repeat without rework is a retest.</summary>
    public bool IsRework { get; init; }

    /// <summary>Named moments within the step.</summary>
    public IReadOnlyList<StepMark>? Marks { get; init; }

    /// <summary>Lots used.</summary>
    public IReadOnlyList<MaterialUse>? Materials { get; init; }

    /// <summary>Tools used.</summary>
    public IReadOnlyList<ToolUse>? Tools { get; init; }

    /// <summary>Values measured; each characteristic once.</summary>
    public IReadOnlyList<Measurement>? Measurements { get; init; }

    /// <summary>Pass/fail checks; each characteristic once.</summary>
    public IReadOnlyList<CheckResult>? Checks { get; init; }

    /// <summary>Component units put in; each position once.</summary>
    public IReadOnlyList<ComponentUse>? Components { get; init; }

    /// <summary>Defects that the person reports.</summary>
    public IReadOnlyList<DefectReport>? Defects { get; init; }

    /// <summary>Free text; at most 2,000 characters.</summary>
    public string? Note { get; init; }

    /// <summary>The code of the person who watched over the work, where the step allows that; null: whoever the start of the step names.</summary>
    public string? Supervisor { get; init; }
}

/// <summary>A component was put in outside a step's completion.</summary>
public sealed record ComponentInstalled : FactMessage
{
    /// <summary>The unit.</summary>
    public required UnitRef Unit { get; init; }

    /// <summary>Where in the unit.</summary>
    public required string Position { get; init; }

    /// <summary>The component unit.</summary>
    public required UnitRef Component { get; init; }

    /// <summary>The step whose requirement it serves, if any.</summary>
    public string? Step { get; init; }
}

/// <summary>A component was taken out.</summary>
public sealed record ComponentRemoved : FactMessage
{
    /// <summary>The unit.</summary>
    public required UnitRef Unit { get; init; }

    /// <summary>Where in the unit.</summary>
    public required string Position { get; init; }

    /// <summary>The component unit.</summary>
    public required UnitRef Component { get; init; }

    /// <summary>Why, in words; at most 2,000 characters.</summary>
    public string? Reason { get; init; }
}

/// <summary>The unit moves to another revision of its routing, by decision.</summary>
public sealed record UnitMovedToRevision : FactMessage
{
    /// <summary>The unit.</summary>
    public required UnitRef Unit { get; init; }

    /// <summary>The revision from here on.</summary>
    public required string Revision { get; init; }

    /// <summary>Codes of completed steps that stay valid under the new revision; others must be done again.</summary>
    public IReadOnlyList<string>? CarriesOver { get; init; }

    /// <summary>Why, in words; 1 to 2,000 characters.</summary>
    public required string Reason { get; init; }

    /// <summary>The code of the person who authorised it.</summary>
    public required string AuthorisedBy { get; init; }

    /// <summary>The unit's version that the decision looked at: refused if the unit has another one by now; null: whatever it has.</summary>
    public int? DecidedAtVersion { get; init; }
}

/// <summary>The unit is stopped.</summary>
public sealed record UnitHeld : FactMessage
{
    /// <summary>The unit.</summary>
    public required UnitRef Unit { get; init; }

    /// <summary>Why, in words; 1 to 2,000 characters.</summary>
    public required string Reason { get; init; }

    /// <summary>What the hold is called, such as the number of the containment that placed it; null: a hold without a name.</summary>
    public string? Hold { get; init; }
}

/// <summary>A hold on the unit is lifted.</summary>
public sealed record UnitHoldLifted : FactMessage
{
    /// <summary>The unit.</summary>
    public required UnitRef Unit { get; init; }

    /// <summary>Why, in words; 1 to 2,000 characters.</summary>
    public required string Reason { get; init; }

    /// <summary>The hold that is lifted, by its name; null: the one without a name. The unit is stopped while another one stands.</summary>
    public string? Hold { get; init; }
}

/// <summary>A person decided that the unit is complete and may leave.</summary>
public sealed record UnitReleased : FactMessage
{
    /// <summary>The unit.</summary>
    public required UnitRef Unit { get; init; }
}

/// <summary>A person decided that the unit is scrap.</summary>
public sealed record UnitScrapped : FactMessage
{
    /// <summary>The unit.</summary>
    public required UnitRef Unit { get; init; }

    /// <summary>Why, in words; 1 to 2,000 characters.</summary>
    public required string Reason { get; init; }
}

/// <summary>The unit left to a consignee.</summary>
public sealed record UnitShipped : FactMessage
{
    /// <summary>The unit.</summary>
    public required UnitRef Unit { get; init; }

    /// <summary>To whom; 1 to 2,000 characters.</summary>
    public required string Consignee { get; init; }

    /// <summary>The order that it left on.</summary>
    public string? OrderReference { get; init; }
}

/// <summary>The unit came back.</summary>
public sealed record UnitReturned : FactMessage
{
    /// <summary>The unit.</summary>
    public required UnitRef Unit { get; init; }

    /// <summary>Why, in words; 1 to 2,000 characters.</summary>
    public required string Reason { get; init; }
}
