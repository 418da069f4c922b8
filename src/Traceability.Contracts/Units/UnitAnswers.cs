using System.Text.Json;
using Traceability.Contracts.Facts;
using Traceability.Contracts.Nonconformances;

namespace Traceability.Contracts.Units;

/// <summary>Where a unit stands.</summary>
/// <param name="Item">Item number.</param>
/// <param name="Serial">Serial number.</param>
/// <param name="Variant">Variant; null for none.</param>
/// <param name="Revision">Routing revision that applies; null if none does.</param>
/// <param name="OpenedAt">When the unit was opened.</param>
/// <param name="Place">in-process, on-hold, in-stock, shipped, returned or scrapped.</param>
/// <param name="Step">While in process: the last step that was started or completed.</param>
/// <param name="Since">Since when it is there.</param>
/// <param name="Consignee">While shipped: to whom.</param>
/// <param name="EndedAt">When it was first released or scrapped; null while it is being built.</param>
/// <param name="HasUnreadable">Some stored record of it, or of what it was judged by, can't be read, or it could not be judged: what is said may be wrong.</param>
public sealed record UnitSummary(
    string Item,
    string Serial,
    string? Variant,
    string? Revision,
    DateTimeOffset? OpenedAt,
    string Place,
    string? Step,
    DateTimeOffset? Since,
    string? Consignee,
    DateTimeOffset? EndedAt,
    bool HasUnreadable)
{
    /// <summary>The holds that stand on it, by name; "*" is one without a name. Empty: none.</summary>
    public IReadOnlyList<string> Holds { get; init; } = [];
}

/// <summary>A page of units.</summary>
/// <param name="Units">The units, by item and serial.</param>
/// <param name="After">Give this as "after" to get the next page; null on the last.</param>
/// <param name="Completeness">What may be missing from it.</param>
public sealed record UnitPage(IReadOnlyList<UnitSummary> Units, string? After,
    Completeness Completeness);

/// <summary>One unit as it stands now, judged at the moment of asking.</summary>
/// <param name="Unit">Where it stands.</param>
/// <param name="AsOf">The moment of asking.</param>
/// <param name="Version">Number of facts recorded about it.</param>
/// <param name="NextSteps">Steps that could come next, in the routing's order.</param>
/// <param name="Steps">One result per completed attempt, by when it was completed.</param>
/// <param name="OpenIntervals">Intervals that have started and not ended.</param>
/// <param name="Findings">Every rule that a record broke.</param>
/// <param name="Components">Which units were put into it.</param>
/// <param name="InstalledIn">Which units it was put into.</param>
/// <param name="Completeness">What may be missing from it.</param>
public sealed record UnitView(
    UnitSummary Unit,
    DateTimeOffset AsOf,
    int Version,
    IReadOnlyList<string> NextSteps,
    IReadOnlyList<StepAttempt> Steps,
    IReadOnlyList<UnitInterval> OpenIntervals,
    IReadOnlyList<Finding> Findings,
    IReadOnlyList<InstalledUnit> Components,
    IReadOnlyList<InstalledUnit> InstalledIn,
    Completeness Completeness)
{
    /// <summary>What was found on it or reported by a person and is not dealt with: each keeps it from being released.</summary>
    public IReadOnlyList<Nonconformance> OpenNonconformances { get; init; } = [];
}

/// <summary>What came of one attempt at a step.</summary>
/// <param name="Step">Step code.</param>
/// <param name="Attempt">1 for the first.</param>
/// <param name="Record">Id of the fact that completed it.</param>
/// <param name="Revision">Revision that it was judged by.</param>
/// <param name="StartedAt">When it began; null if nobody said so.</param>
/// <param name="CompletedAt">When it was completed.</param>
/// <param name="Day">That day in the site's calendar.</param>
/// <param name="Station">Station.</param>
/// <param name="Person">Person.</param>
/// <param name="IsRework">Whether it redid work.</param>
/// <param name="Passed">No finding on it counts as a defect.</param>
/// <param name="Defects">How many findings on it count as defects.</param>
public sealed record StepAttempt(
    string Step,
    int Attempt,
    Guid Record,
    string? Revision,
    DateTimeOffset? StartedAt,
    DateTimeOffset CompletedAt,
    DateOnly Day,
    string? Station,
    string? Person,
    bool IsRework,
    bool Passed,
    int Defects);

/// <summary>An interval that runs.</summary>
/// <param name="Rule">Interval rule.</param>
/// <param name="Name">What it is for.</param>
/// <param name="FromStep">The step that started it.</param>
/// <param name="ToStep">The step that ends it.</param>
/// <param name="StartedAt">When it started.</param>
/// <param name="Uncertainty">How far that may be off, either way (ISO 8601 duration).</param>
/// <param name="ReadyAt">From when on the minimum is met.</param>
/// <param name="OverdueAt">From when on the maximum is exceeded.</param>
public sealed record UnitInterval(
    string Rule,
    string Name,
    string FromStep,
    string ToStep,
    DateTimeOffset StartedAt,
    TimeSpan Uncertainty,
    DateTimeOffset? ReadyAt,
    DateTimeOffset? OverdueAt)
{
    /// <summary>For a limit that depends on temperature: what its time assumes; null where it rests on readings alone.</summary>
    public string? Assumption { get; init; }

    /// <summary>Until when readings bear the assumption out; null: no reading is needed.</summary>
    public DateTimeOffset? AssumedUntil { get; init; }
}

/// <summary>A unit inside another one.</summary>
/// <param name="Parent">The unit that it was put into.</param>
/// <param name="Position">Where in it.</param>
/// <param name="Component">The unit that was put in.</param>
/// <param name="Step">The step that put it in, if any.</param>
/// <param name="Record">Id of the fact that put it in.</param>
/// <param name="From">When.</param>
/// <param name="To">When it was taken out; null while it is inside.</param>
public sealed record InstalledUnit(
    UnitRef Parent, string Position, UnitRef Component, string? Step, Guid Record, DateTimeOffset From, DateTimeOffset? To);

/// <summary>Everything recorded about one unit and the units inside it.</summary>
/// <param name="AsOf">The moment of asking: every fact acknowledged before it is here.</param>
/// <param name="View">The unit as it stands.</param>
/// <param name="Records">Every fact, in order of recording, corrected and void ones included.</param>
/// <param name="Lots">The lots that its records name, with what is known of them.</param>
/// <param name="Tools">The tools that its records name.</param>
/// <param name="Gaps">Where a record should name a lot, a container or a serial, or the lot that the unit came in, and does not.</param>
/// <param name="Components">Build records of the units that are inside it now.</param>
/// <param name="Statement">What this document says and what it does not.</param>
/// <param name="Completeness">What may be missing from it, the units inside it included.</param>
public sealed record BuildRecord(
    DateTimeOffset AsOf,
    UnitView View,
    IReadOnlyList<RecordedFactView> Records,
    IReadOnlyList<LotUsed> Lots,
    IReadOnlyList<ToolUsed> Tools,
    IReadOnlyList<MissingTrace> Gaps,
    IReadOnlyList<BuildRecord> Components,
    string Statement,
    Completeness Completeness)
{
    /// <summary>What derived limits were worked out to at each attempt, and from which records.</summary>
    public IReadOnlyList<DerivedLimitsView> DerivedLimits { get; init; } = [];

    /// <summary>Every fact of the batch that it was taken out of, in order of recording; those until it was taken out count as its own.</summary>
    public IReadOnlyList<RecordedFactView> BatchRecords { get; init; } = [];

    /// <summary>The signatures under its releases, oldest first: who signed, when, and what it means.</summary>
    public IReadOnlyList<SignatureView> Signatures { get; init; } = [];
}

/// <summary>A fact as it was reported.</summary>
/// <param name="FactId">Id chosen by its sender.</param>
/// <param name="Type">Type of fact.</param>
/// <param name="Version">Its place in the unit's stream, from 1.</param>
/// <param name="OccurredAt">When it happened, corrected by the measured offset of the terminal's clock.</param>
/// <param name="RecordedAt">When the service stored it.</param>
/// <param name="Content">The fact as stored: what was reported, with the clock reading.</param>
/// <param name="IsVoided">It no longer counts.</param>
/// <param name="ChangedBy">Ids of the corrections and voids that apply to it, oldest first.</param>
/// <param name="Unreadable">Why the record can't be read; null where it can. Its content is shown as it is stored.</param>
public sealed record RecordedFactView(
    Guid FactId,
    string Type,
    int Version,
    DateTimeOffset OccurredAt,
    DateTimeOffset RecordedAt,
    JsonElement Content,
    bool IsVoided,
    IReadOnlyList<Guid> ChangedBy,
    string? Unreadable);

/// <summary>A lot that the unit's records name.</summary>
/// <param name="Item">Item number.</param>
/// <param name="Lot">Lot number.</param>
/// <param name="Container">Container, where it was recorded.</param>
/// <param name="Step">The step; null for the lot that the unit itself came in.</param>
/// <param name="Record">Id of the fact.</param>
/// <param name="IsOneOf">The record names several lots, one of which was used.</param>
/// <param name="SupplierLot">The supplier's own lot.</param>
/// <param name="ExpiresAt">End of shelf life.</param>
/// <param name="IsKnown">Whether the lot was ever received here.</param>
public sealed record LotUsed(
    string Item,
    string Lot,
    string? Container,
    string? Step,
    Guid Record,
    bool IsOneOf,
    string? SupplierLot,
    DateTimeOffset? ExpiresAt,
    bool IsKnown);

/// <summary>A tool that the unit's records name.</summary>
/// <param name="Tool">Tool number.</param>
/// <param name="Setting">Setting as read off the tool.</param>
/// <param name="Step">Step.</param>
/// <param name="Record">Id of the fact.</param>
/// <param name="ToolClass">Its class; null if the tool is not known.</param>
/// <param name="CalibratedAt">Its last calibration before the use.</param>
/// <param name="CalibrationValidUntil">Until when that was valid.</param>
public sealed record ToolUsed(
    string Tool,
    string? Setting,
    string Step,
    Guid Record,
    string? ToolClass,
    DateTimeOffset? CalibratedAt,
    DateTimeOffset? CalibrationValidUntil);

/// <summary>What a record should name and does not.</summary>
/// <param name="Kind">lot, container, serial, or own-lot: the lot that the unit itself came in, or a component of which nothing is recorded.</param>
/// <param name="Reason">not-recorded, voided, step-not-recorded or unreadable.</param>
/// <param name="Step">Step; null for the lot that the unit itself came in, and for a component that no step put in.</param>
/// <param name="Requirement">Material requirement, or position; null for the lot that the unit itself came in.</param>
/// <param name="Items">The required item and its approved alternatives.</param>
public sealed record MissingTrace(string Kind, string Reason, string? Step, string? Requirement, IReadOnlyList<string> Items);
