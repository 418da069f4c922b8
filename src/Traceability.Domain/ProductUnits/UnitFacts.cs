using Traceability.Domain.Facts;
using Traceability.Domain.Primitives;

namespace Traceability.Domain.ProductUnits;

/// <summary>A fact about one unit; it belongs to that unit's stream.</summary>
public interface IUnitFact
{
    /// <summary>The unit.</summary>
    UnitKey Unit { get; }
}

/// <summary>A serial number was given to a unit: from here on it is known.</summary>
/// <param name="Unit">The unit.</param>
/// <param name="Variant">Its variant; null for an item without variants.</param>
/// <param name="Options">Its options.</param>
/// <param name="Lot">The received lot that it came in, for a serialised part that was bought.</param>
public sealed record UnitOpened(
    UnitKey Unit, VariantCode? Variant, ImmutableArray<Code> Options, LotNumber? Lot) : Fact, IUnitFact
{
    /// <summary>The batch of its item that it was taken out of, where the part went through steps before it had a serial; null: none.</summary>
    public BatchNumber? Batch { get; init; }
}

/// <summary>Work on a step began.</summary>
public sealed record StepStarted(UnitKey Unit, StepCode Step) : Fact, IUnitFact
{
    /// <summary>Who watches over the person, where the step allows that; null: nobody.</summary>
    public PersonCode? Supervisor { get; init; }
}

/// <summary>A step was completed, with everything that was used, measured and seen. The time it occurred is the completion.</summary>
/// <param name="Unit">The unit.</param>
/// <param name="Step">The step.</param>
/// <param name="StartedAt">When it began, by the terminal's clock; null: the last reported start of the step counts.</param>
/// <param name="IsRework">Whether this attempt redid work (a repeat without rework is a retest).</param>
/// <param name="Marks">Named moments within the step, such as oven-in.</param>
/// <param name="Materials">Lots used.</param>
/// <param name="Tools">Tools used.</param>
/// <param name="Measurements">Values measured.</param>
/// <param name="Checks">Pass/fail checks.</param>
/// <param name="Components">Component units put in.</param>
/// <param name="Defects">Defects that the person reports.</param>
/// <param name="Note">Free text.</param>
public sealed record StepCompleted(
    UnitKey Unit,
    StepCode Step,
    DateTimeOffset? StartedAt,
    bool IsRework,
    ImmutableArray<StepMark> Marks,
    ImmutableArray<MaterialUse> Materials,
    ImmutableArray<ToolUse> Tools,
    ImmutableArray<Measurement> Measurements,
    ImmutableArray<CheckResult> Checks,
    ImmutableArray<ComponentUse> Components,
    ImmutableArray<DefectReport> Defects,
    string? Note) : Fact, IUnitFact
{
    /// <summary>Who watched over the person, where the step allows that; null: whoever the start of the step names.</summary>
    public PersonCode? Supervisor { get; init; }
}

/// <summary>A named moment within a step, by the terminal's clock.</summary>
public sealed record StepMark(Code Name, DateTimeOffset At);

/// <summary>Material used at a step.</summary>
/// <param name="Item">The item.</param>
/// <param name="Lots">The lot; several mean "one of these" (a changeover that nobody timed); none means not recorded.</param>
/// <param name="Container">The container, where it was scanned.</param>
/// <param name="Quantity">How much, where it was recorded.</param>
/// <param name="Requirement">The requirement that it serves; null: the one that accepts the item.</param>
public sealed record MaterialUse(
    ItemNumber Item, ImmutableArray<LotNumber> Lots, ContainerNumber? Container, EnteredQuantity? Quantity, Code? Requirement);

/// <summary>A tool used at a step.</summary>
/// <param name="Tool">The tool.</param>
/// <param name="Setting">Its clutch or program setting as read off the tool.</param>
/// <param name="Requirement">The requirement that it serves; null: the one of its class.</param>
public sealed record ToolUse(ToolNumber Tool, Code? Setting, Code? Requirement);

/// <summary>A measured value, as entered.</summary>
/// <param name="Characteristic">What was measured.</param>
/// <param name="Value">The decimal digits as reported.</param>
/// <param name="Unit">The unit as a case-sensitive UCUM code.</param>
public sealed record Measurement(Code Characteristic, decimal Value, string Unit)
{
    /// <summary>The standard uncertainty of the value, in <see cref="Unit"/> (JCGM 100, 2.3.1); null where it is not stated.</summary>
    public decimal? StandardUncertainty { get; init; }
}

/// <summary>The result of a pass/fail check.</summary>
public sealed record CheckResult(Code Characteristic, bool Passed);

/// <summary>A component unit put in at a position.</summary>
public sealed record ComponentUse(Code Position, UnitKey Component);

/// <summary>A defect that a person saw.</summary>
public sealed record DefectReport(Code Defect, int Count, string? Note);

/// <summary>A component was put in outside a step's completion.</summary>
/// <param name="Unit">The unit that it was put into.</param>
/// <param name="Position">Where in it.</param>
/// <param name="Component">The component unit.</param>
/// <param name="Step">The step whose requirement it serves, if any.</param>
public sealed record ComponentInstalled(UnitKey Unit, Code Position, UnitKey Component, StepCode? Step) : Fact, IUnitFact;

/// <summary>A component was taken out.</summary>
public sealed record ComponentRemoved(UnitKey Unit, Code Position, UnitKey Component, string? Reason) : Fact, IUnitFact;

/// <summary>The unit moves to another revision of its routing, by decision.</summary>
/// <param name="Unit">The unit.</param>
/// <param name="Revision">The revision from here on.</param>
/// <param name="CarriesOver">Completed steps that stay valid under the new revision; others must be done again.</param>
/// <param name="Reason">Why, in words.</param>
/// <param name="AuthorisedBy">Who authorised it.</param>
public sealed record UnitMovedToRevision(
    UnitKey Unit, RevisionCode Revision, ImmutableArray<StepCode> CarriesOver, string Reason, PersonCode AuthorisedBy) : Fact, IUnitFact
{
    /// <summary>The unit's version that the decision looked at: refused if the unit has another one by now; null: whatever it has.</summary>
    public int? DecidedAtVersion { get; init; }
}

/// <summary>The unit is stopped.</summary>
public sealed record UnitHeld(UnitKey Unit, string Reason) : Fact, IUnitFact
{
    /// <summary>What the hold is called, such as the number of the containment that placed it; null: a hold without a name.</summary>
    public Code? Hold { get; init; }
}

/// <summary>A hold on the unit is lifted. The unit is stopped while another one stands.</summary>
public sealed record UnitHoldLifted(UnitKey Unit, string Reason) : Fact, IUnitFact
{
    /// <summary>The hold that is lifted, as <see cref="UnitHeld.Hold"/>; null: the one without a name.</summary>
    public Code? Hold { get; init; }
}

/// <summary>A person decided that the unit is complete and may leave.</summary>
public sealed record UnitReleased(UnitKey Unit) : Fact, IUnitFact
{
    /// <summary>The signature under it, where the service decided with a person; null for a release that was only reported.</summary>
    public Signature? Signature { get; init; }
}

/// <summary>A person decided that the unit is scrap.</summary>
public sealed record UnitScrapped(UnitKey Unit, string Reason) : Fact, IUnitFact;

/// <summary>The unit left to a consignee.</summary>
public sealed record UnitShipped(UnitKey Unit, string Consignee, string? OrderReference) : Fact, IUnitFact
{
    /// <summary>The shipment that it left with, where the service decided on several units at once; null for one that was only reported.</summary>
    public Guid? Shipment { get; init; }
}

/// <summary>The unit came back.</summary>
public sealed record UnitReturned(UnitKey Unit, string Reason) : Fact, IUnitFact;
