namespace Traceability.Domain.Scope;

/// <summary>The table that a row of evidence is in.</summary>
public enum EvidenceKind
{
    /// <summary>A lot that a record names.</summary>
    Usage,

    /// <summary>A required lot, container or serial that no record names.</summary>
    Gap,

    /// <summary>A unit inside another one.</summary>
    Installation,

    /// <summary>The unit itself.</summary>
    Unit,

    /// <summary>A tool that a record names.</summary>
    ToolUse,

    /// <summary>What came of an attempt at a step.</summary>
    Work,

    /// <summary>A value that was measured, or a check.</summary>
    Measurement,

    /// <summary>An interval that has ended.</summary>
    Interval,

    /// <summary>Work that no record tells of.</summary>
    WorkGap,
}

/// <summary>Identifies a row of evidence.</summary>
/// <param name="Kind">Which table.</param>
/// <param name="Unit">The unit whose row it is; for an installation the parent.</param>
/// <param name="RowId">The row's id within the unit.</param>
public readonly record struct EvidenceKey(EvidenceKind Kind, string Unit, long RowId);

// The walk touches each row of tens of thousands of units once, so its rows carry only what decides, with units
// named as UnitKey writes them; what a person reads of the evidence is looked up later, for the members shown.

/// <summary>A lot that a record names, as the walk needs it.</summary>
/// <param name="Unit">The unit, as item/serial.</param>
/// <param name="RowId">The row's id within the unit.</param>
/// <param name="Container">The container; null where it isn't recorded.</param>
/// <param name="IsOneOf">The record names several lots, one of which was used.</param>
/// <param name="Step">The step; null: the unit itself is a piece of the lot.</param>
/// <param name="From">The earliest time of use.</param>
/// <param name="To">The latest time of use.</param>
/// <param name="Station">The station.</param>
/// <param name="Quantity">How much, as entered: the number, a space, the UCUM code; null where it isn't recorded.</param>
public readonly record struct UsageRow(
    string Unit, long RowId, string? Container, bool IsOneOf, string? Step, DateTimeOffset From, DateTimeOffset To, string? Station, string? Quantity)
{
    /// <summary>The unit itself is a piece of the lot: it was so before it was opened here.</summary>
    public bool IsOwnLot => Step is null;
}

/// <summary>A lot that a record names, where several lots are looked for.</summary>
/// <param name="Lot">The lot.</param>
/// <param name="Record">The record.</param>
/// <param name="Requirement">The requirement that it serves; null if none.</param>
/// <param name="LotCount">How many lots it names for that, where one of several was used; else 1.</param>
/// <param name="Usage">The rest.</param>
public readonly record struct LotUsageRow(Primitives.LotKey Lot, Guid Record, string? Requirement, int LotCount, UsageRow Usage);

/// <summary>A missing lot, container or serial, as the walk needs it: one row for each item that would be accepted.</summary>
/// <param name="Unit">The unit, as item/serial.</param>
/// <param name="RowId">The row's id within the unit.</param>
/// <param name="Kind">What is missing.</param>
/// <param name="Item">An item that would be accepted.</param>
/// <param name="Step">The step; null for the lot that the unit itself came in, and for a component that no step put in.</param>
/// <param name="From">The earliest time that it could have been used.</param>
/// <param name="To">The latest; null: until now.</param>
/// <param name="Station">The station; null: any.</param>
public readonly record struct GapRow(
    string Unit, long RowId, Judging.GapKind Kind, string Item, string? Step, DateTimeOffset From, DateTimeOffset? To, string? Station);

/// <summary>A unit inside another one, as the walk needs it.</summary>
/// <param name="Component">The unit inside, as item/serial.</param>
/// <param name="Parent">The unit that it is inside of.</param>
/// <param name="RowId">The row's id within the parent.</param>
/// <param name="From">From when on.</param>
/// <param name="To">Until when; null while it is inside.</param>
/// <param name="Uncertainty">By how much each of the two times may be wrong.</param>
/// <param name="ParentStands">Where the parent stands; null if nothing else is known of it.</param>
public readonly record struct InstallationRow(
    string Component, string Parent, long RowId, DateTimeOffset From, DateTimeOffset? To, TimeSpan Uncertainty, UnitRow? ParentStands);

/// <summary>A tool that a record names, as a search needs it.</summary>
/// <param name="Unit">The unit, as item/serial.</param>
/// <param name="RowId">The row's id within the unit.</param>
/// <param name="Setting">The setting; null where it isn't recorded.</param>
/// <param name="Step">The step.</param>
/// <param name="From">The earliest time of use.</param>
/// <param name="To">The latest time of use.</param>
/// <param name="Station">The station; null where it isn't recorded.</param>
public readonly record struct ToolUseRow(
    string Unit, long RowId, string? Setting, string Step, DateTimeOffset From, DateTimeOffset To, string? Station);

/// <summary>What came of an attempt at a step, as a search needs it.</summary>
/// <param name="Unit">The unit, as item/serial.</param>
/// <param name="RowId">The row's id within the unit.</param>
/// <param name="Variant">The unit's variant; null: none.</param>
/// <param name="Revision">The revision; null: none applied.</param>
/// <param name="Step">The step.</param>
/// <param name="From">The earliest time that anything in it can have happened.</param>
/// <param name="To">The latest.</param>
/// <param name="Station">The station; null where it isn't recorded.</param>
/// <param name="Person">The person; null where nobody is recorded.</param>
public readonly record struct WorkRow(
    string Unit, long RowId, string? Variant, string? Revision, string Step, DateTimeOffset From, DateTimeOffset To, string? Station, string? Person);

/// <summary>A value that was measured, or a check, as a search needs it.</summary>
/// <param name="Unit">The unit, as item/serial.</param>
/// <param name="RowId">The row's id within the unit.</param>
/// <param name="Step">The step.</param>
/// <param name="Value">The value as entered: number, space, UCUM code; null for a check.</param>
/// <param name="Magnitude">The value in the coherent SI unit; null for a check and where the unit is not known.</param>
/// <param name="Dimension">The dimension; null where the magnitude is.</param>
/// <param name="Uncertainty">The expanded uncertainty in the same unit; null: none is stated.</param>
/// <param name="Passed">Whether it passed; null: not judged, or not shown either way.</param>
/// <param name="From">The earliest time of it.</param>
/// <param name="To">The latest.</param>
/// <param name="Station">The station; null where it isn't recorded.</param>
public readonly record struct MeasuredRow(
    string Unit,
    long RowId,
    string Step,
    string? Value,
    double? Magnitude,
    string? Dimension,
    double? Uncertainty,
    bool? Passed,
    DateTimeOffset From,
    DateTimeOffset To,
    string? Station);

/// <summary>An interval that has ended, as a search needs it.</summary>
/// <param name="Unit">The unit, as item/serial.</param>
/// <param name="RowId">The row's id within the unit.</param>
/// <param name="Step">The step that ends it.</param>
/// <param name="Least">The least that it can have lasted; null: not known.</param>
/// <param name="Most">The most; null: not known.</param>
/// <param name="At">When it ended.</param>
/// <param name="Station">The station of the record that ended it; null where it isn't recorded.</param>
public readonly record struct IntervalRow(
    string Unit, long RowId, string Step, TimeSpan? Least, TimeSpan? Most, DateTimeOffset At, string? Station);

/// <summary>Work that should be recorded and isn't, as a search needs it.</summary>
/// <param name="Unit">The unit, as item/serial.</param>
/// <param name="RowId">The row's id within the unit.</param>
/// <param name="Variant">The unit's variant; null: none.</param>
/// <param name="Revision">The revision that asks for it; null: not known.</param>
/// <param name="Step">The step; for an interval the one that ends it.</param>
/// <param name="From">The earliest time that it can have been done.</param>
/// <param name="To">The latest; null: until now.</param>
/// <param name="Station">The station; null: any.</param>
/// <param name="Person">The person; null: anyone.</param>
/// <param name="Stations">Where the routing says that the step is done, separated by spaces; null: anywhere.</param>
public readonly record struct WorkGapRow(
    string Unit,
    long RowId,
    string? Variant,
    string? Revision,
    string Step,
    DateTimeOffset From,
    DateTimeOffset? To,
    string? Station,
    string? Person,
    string? Stations);

/// <summary>Where a unit stands by its own facts.</summary>
/// <param name="Unit">The unit, as item/serial.</param>
/// <param name="OpenedAt">When it was opened; null while it isn't.</param>
/// <param name="Place">Where it is.</param>
/// <param name="Step">While in process: the last step that was started or completed.</param>
/// <param name="Since">Since when it is there.</param>
/// <param name="Consignee">While shipped: to whom.</param>
public sealed record UnitRow(
    string Unit, DateTimeOffset? OpenedAt, Judging.Place Place, string? Step, DateTimeOffset? Since, string? Consignee);

/// <summary>What a row of evidence says, for a person.</summary>
/// <param name="Record">The fact; empty where there is none.</param>
/// <param name="Step">The step; null if none.</param>
/// <param name="What">The material requirement, the component's position, the tool requirement, the characteristic or the interval rule; null if none.</param>
/// <param name="Lot">The lot that is named, as item/lot; null if none.</param>
/// <param name="Container">The container that is named; null if none.</param>
/// <param name="Component">The component that is named; null if none.</param>
/// <param name="GapReason">Why something is missing; null where nothing is.</param>
/// <param name="From">The earliest time.</param>
/// <param name="To">The latest; null: until now.</param>
/// <param name="Station">The station; null where it isn't known.</param>
public sealed record EvidenceRow(
    Guid Record,
    string? Step,
    string? What,
    string? Lot,
    string? Container,
    string? Component,
    Judging.GapReason? GapReason,
    DateTimeOffset From,
    DateTimeOffset? To,
    string? Station)
{
    /// <summary>What else the record says: the tool, the person, the value; null if nothing.</summary>
    public string? Says { get; init; }

    /// <summary>That a unit is there.</summary>
    /// <param name="openedAt">When it was opened; null: not recorded.</param>
    public static EvidenceRow OfUnit(DateTimeOffset? openedAt) =>
        new(Guid.Empty, null, null, null, null, null, null, openedAt ?? DateTimeOffset.UnixEpoch, null, null);
}

/// <summary>A unit that a record clears, with that record.</summary>
/// <param name="Unit">The unit, as item/serial.</param>
/// <param name="Evidence">The record that names another lot, or another container.</param>
public sealed record ClearedUnit(string Unit, EvidenceRow Evidence);
