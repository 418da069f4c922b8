using System.Text.Json.Serialization;
using Traceability.Domain.Nonconformances;
using Traceability.Domain.Primitives;
using Traceability.Domain.ProductUnits;
using Traceability.Domain.Routings;

namespace Traceability.Domain.Judging;

/// <summary>All judgements on one unit: a pure function of its facts and of <see cref="IReferences"/>.</summary>
/// <param name="Unit">The unit.</param>
/// <param name="Status">Where it stands.</param>
/// <param name="Steps">One result per completed attempt, by when it was completed.</param>
/// <param name="Findings">Every rule that a record broke.</param>
/// <param name="OpenIntervals">Intervals that have started and not ended.</param>
/// <param name="Usages">Which lots its records name.</param>
/// <param name="Gaps">Where a record should name a lot, a container or a serial and doesn't.</param>
/// <param name="Installations">Which units were put into it, from when to when.</param>
public sealed record UnitJudgement(
    UnitKey Unit,
    UnitStatus Status,
    ImmutableArray<StepResult> Steps,
    ImmutableArray<Finding> Findings,
    ImmutableArray<OpenInterval> OpenIntervals,
    ImmutableArray<MaterialUsage> Usages,
    ImmutableArray<TraceGap> Gaps,
    ImmutableArray<Installation> Installations)
{
    /// <summary>The streams of which a stored fact can't be read and which this judgement looked at; the unit's own among them.</summary>
    public ImmutableArray<string> Unreadable { get; init; } = [];

    /// <summary>The times over which it looked at temperatures, and where: a reading in one of them may change it, any other can't.</summary>
    public ImmutableArray<CureWindow> CureWindows { get; init; } = [];

    /// <summary>Which tools its records name.</summary>
    public ImmutableArray<ToolUsage> ToolUsages { get; init; } = [];

    /// <summary>Findings and reports of people under decision, by when what they rest on happened.</summary>
    public ImmutableArray<Nonconformance> Nonconformances { get; init; } = [];

    /// <summary>What was measured and checked: one for each value and check of each attempt that counts.</summary>
    public ImmutableArray<MeasuredValue> Measurements { get; init; } = [];

    /// <summary>Intervals that have ended, and how long they were.</summary>
    public ImmutableArray<IntervalResult> IntervalResults { get; init; } = [];

    /// <summary>Work that should be recorded and isn't: a step, a tool, a characteristic, an interval.</summary>
    public ImmutableArray<WorkGap> WorkGaps { get; init; } = [];

    /// <summary>To whom it left, by when.</summary>
    public ImmutableArray<Departure> Departures { get; init; } = [];
}

/// <summary>A time over which a judgement looked at the temperatures of a place.</summary>
/// <param name="Place">The place.</param>
/// <param name="From">Begin, included.</param>
/// <param name="To">End, included.</param>
public sealed record CureWindow(StationCode Place, DateTimeOffset From, DateTimeOffset To);

/// <summary>Where a unit can be.</summary>
public enum Place
{
    /// <summary>Being built.</summary>
    InProcess,

    /// <summary>Stopped.</summary>
    OnHold,

    /// <summary>Complete, and not yet left.</summary>
    InStock,

    /// <summary>Left to a consignee.</summary>
    Shipped,

    /// <summary>Came back.</summary>
    Returned,

    /// <summary>Scrap.</summary>
    Scrapped,
}

/// <summary>Where a unit stands by its own facts. (Whether it is inside another unit is told by <see cref="Installation"/>.)</summary>
/// <param name="Variant">Its variant.</param>
/// <param name="Options">Its options.</param>
/// <param name="Lot">The lot that it came in, for a bought part.</param>
/// <param name="OpenedAt">When it was opened; null while it isn't.</param>
/// <param name="Revision">The revision that applies now; null if none does.</param>
/// <param name="Place">Where it is.</param>
/// <param name="Step">While in process, or stopped in process: the last step that was started or completed.</param>
/// <param name="Since">Since when it is there, at that step.</param>
/// <param name="Consignee">While shipped: to whom.</param>
/// <param name="EndedAt">When it was first released or scrapped; null while it is being built.</param>
/// <param name="EndedDay">That day in the calendar of the site that ended it, UTC where the site is not known; null if not ended.</param>
/// <param name="PassedFirstTime">Ended, and every step that applies was passed at its first attempt without rework.</param>
/// <param name="HasUnreadable">
/// Some stored fact of it or of what it was judged by can't be read, or it could not be judged: everything said here may be incomplete.
/// </param>
public sealed record UnitStatus(
    VariantCode? Variant,
    ImmutableArray<Code> Options,
    LotNumber? Lot,
    DateTimeOffset? OpenedAt,
    RevisionCode? Revision,
    Place Place,
    StepCode? Step,
    DateTimeOffset? Since,
    string? Consignee,
    DateTimeOffset? EndedAt,
    DateOnly? EndedDay,
    bool PassedFirstTime,
    bool HasUnreadable)
{
    /// <summary>The holds that stand on it, wherever it is: <see cref="StandingHolds.Text"/>; null: none.</summary>
    public string? Holds { get; init; }
}

/// <summary>What came of one attempt at a step.</summary>
/// <param name="Step">The step.</param>
/// <param name="Attempt">1 for the first attempt that counts, by when it was completed.</param>
/// <param name="Record">The fact that completed it.</param>
/// <param name="Revision">The revision it was judged by; null if none applied.</param>
/// <param name="StartedAt">When it began; null if nobody said so.</param>
/// <param name="CompletedAt">When it was completed.</param>
/// <param name="Day">That day in the calendar of the station's site; UTC where the site is not known.</param>
/// <param name="Station">The station.</param>
/// <param name="Person">The person.</param>
/// <param name="IsRework">Whether it redid work.</param>
/// <param name="Passed">No finding on it counts as a defect.</param>
/// <param name="Defects">How many findings on it count as defects (a reported defect counts as often as it was seen).</param>
/// <param name="Opportunities">How many things were judged that can count as defects: characteristics, materials, components, tools, intervals.</param>
public sealed record StepResult(
    StepCode Step,
    int Attempt,
    Guid Record,
    RevisionCode? Revision,
    DateTimeOffset? StartedAt,
    DateTimeOffset CompletedAt,
    DateOnly Day,
    StationCode? Station,
    PersonCode? Person,
    bool IsRework,
    bool Passed,
    int Defects,
    int Opportunities)
{
    /// <summary>The earliest time that anything in it can have happened: its start, less the clock's uncertainty; where no start is known, when the unit was free for it.</summary>
    public DateTimeOffset Earliest { get; init; }

    /// <summary>The latest such time: its completion, and the clock's uncertainty.</summary>
    public DateTimeOffset Latest { get; init; }
}

/// <summary>One rule that a record broke, with its evidence. Its identity is (kind, rule, step, attempt) within the unit.</summary>
/// <param name="Kind">What is wrong: a stable code of <see cref="FindingKinds"/>.</param>
/// <param name="Rule">The part of the routing that was broken: a characteristic, requirement, position, interval; "" if none.</param>
/// <param name="Step">The step; null for a finding on the unit as a whole.</param>
/// <param name="Attempt">The attempt; 0 where the step isn't completed.</param>
/// <param name="Record">The fact that it was found on.</param>
/// <param name="At">When that happened.</param>
/// <param name="Policy">Whether it stops, and whether it counts as a defect.</param>
/// <param name="Message">What was recorded against which rule, for a person.</param>
/// <param name="Evidence">The values that it rests on, as name and text.</param>
public sealed record Finding(
    string Kind,
    string Rule,
    StepCode? Step,
    int Attempt,
    Guid Record,
    DateTimeOffset At,
    RulePolicy Policy,
    string Message,
    ImmutableSortedDictionary<string, string> Evidence)
{
    /// <summary>The concession under which it stands; null: none.</summary>
    [JsonIgnore(Condition = JsonIgnoreCondition.WhenWritingNull)]
    public Code? Concession { get; init; }
}

/// <summary>An interval that has started and not ended.</summary>
/// <param name="Rule">The interval rule.</param>
/// <param name="Name">What it is for.</param>
/// <param name="FromStep">The step that started it.</param>
/// <param name="ToStep">The step that ends it.</param>
/// <param name="StartedAt">When it started.</param>
/// <param name="Uncertainty">How far that may be off, either way.</param>
/// <param name="ReadyAt">From when on the minimum is met; null without minimum, and where no time can be told, which the assumption says then.</param>
/// <param name="OverdueAt">From when on the maximum is exceeded; null without maximum.</param>
/// <param name="Policy">Whether it stops, and whether it counts as a defect.</param>
public sealed record OpenInterval(
    Code Rule,
    string Name,
    StepCode FromStep,
    StepCode ToStep,
    DateTimeOffset StartedAt,
    TimeSpan Uncertainty,
    DateTimeOffset? ReadyAt,
    DateTimeOffset? OverdueAt,
    RulePolicy Policy)
{
    /// <summary>For a limit that depends on temperature: what its time assumes, for a person; null where it rests on readings alone.</summary>
    public string? Assumption { get; init; }

    /// <summary>Until when readings bear the assumption out: a later readiness is a forecast, and waiting for it proves nothing. Null: no reading is needed.</summary>
    public DateTimeOffset? AssumedUntil { get; init; }

    /// <summary>For a maximum that is an open time: after when it may have been exceeded, whatever it was where no reading tells; null for any other.</summary>
    public DateTimeOffset? MayBeOverdueAt { get; init; }

    /// <summary>The same: after when the readings show that it surely was; null where they don't.</summary>
    public DateTimeOffset? SurelyOverdueAt { get; init; }
}

/// <summary>A lot that a record names.</summary>
/// <param name="Step">The step; null for a bought unit's own lot.</param>
/// <param name="Record">The fact.</param>
/// <param name="Requirement">The requirement that it serves; null if none accepts the item.</param>
/// <param name="Lot">The lot.</param>
/// <param name="Container">The container, where it was recorded.</param>
/// <param name="IsOneOf">The record names several lots, one of which was used.</param>
/// <param name="From">The earliest time of use (start of the step, less the clock's uncertainty).</param>
/// <param name="To">The latest time of use.</param>
/// <param name="Station">The station.</param>
public sealed record MaterialUsage(
    StepCode? Step,
    Guid Record,
    Code? Requirement,
    LotKey Lot,
    ContainerNumber? Container,
    bool IsOneOf,
    DateTimeOffset From,
    DateTimeOffset To,
    StationCode? Station)
{
    /// <summary>How much was used of it, or of one of them; null where it wasn't recorded.</summary>
    [JsonIgnore(Condition = JsonIgnoreCondition.WhenWritingNull)]
    public EnteredQuantity? Quantity { get; init; }

    /// <summary>Which of the record's materials it is, counted from 0: two may say the same and are two all the same.</summary>
    [JsonIgnore]
    public int Line { get; init; }
}

/// <summary>A tool that a record names.</summary>
/// <param name="Step">The step.</param>
/// <param name="Attempt">The attempt.</param>
/// <param name="Record">The fact.</param>
/// <param name="Tool">The tool.</param>
/// <param name="Setting">The clutch or program setting, where it was recorded.</param>
/// <param name="Requirement">The requirement that it serves; null if none.</param>
/// <param name="At">When the step was completed: the time that the tool is judged at.</param>
/// <param name="From">The earliest time of use (start of the step, less the clock's uncertainty).</param>
/// <param name="To">The latest time of use.</param>
/// <param name="Station">The station.</param>
public sealed record ToolUsage(
    StepCode Step,
    int Attempt,
    Guid Record,
    ToolNumber Tool,
    Code? Setting,
    Code? Requirement,
    DateTimeOffset At,
    DateTimeOffset From,
    DateTimeOffset To,
    StationCode? Station);

/// <summary>What is missing in a record.</summary>
public enum GapKind
{
    /// <summary>No lot is recorded where one is required.</summary>
    Lot,

    /// <summary>The lot is recorded, the container isn't.</summary>
    Container,

    /// <summary>No serial is recorded where a component is required.</summary>
    Serial,

    /// <summary>
    /// Which lot the unit itself came in is not recorded, and it was bought or a void record says that it came in one; or, at a position,
    /// which lot a component came in of which nothing is recorded.
    /// </summary>
    OwnLot,
}

/// <summary>Why it is missing.</summary>
public enum GapReason
{
    /// <summary>The record does not name it.</summary>
    NotRecorded,

    /// <summary>The record that named it is void.</summary>
    Voided,

    /// <summary>The step was not recorded at all, though a later one that needs it was, or the unit has ended.</summary>
    StepNotRecorded,

    /// <summary>The record can't be read.</summary>
    Unreadable,
}

/// <summary>A required lot, container or serial that no record names: what could have been used is possible.</summary>
/// <param name="Kind">What is missing.</param>
/// <param name="Reason">Why.</param>
/// <param name="Step">The step; null for the lot that the unit itself came in, and for a component that no step put in.</param>
/// <param name="Record">The fact that should name it; empty if there is none.</param>
/// <param name="Requirement">The material requirement, or the component's position; null for the lot that the unit itself came in.</param>
/// <param name="Items">The required item and its approved alternatives.</param>
/// <param name="Lot">For a missing container: the lot that is recorded.</param>
/// <param name="From">The earliest time that it could have been used.</param>
/// <param name="To">The latest; null: until now.</param>
/// <param name="Station">The station; null: any.</param>
public sealed record TraceGap(
    GapKind Kind,
    GapReason Reason,
    StepCode? Step,
    Guid Record,
    Code? Requirement,
    ImmutableArray<ItemNumber> Items,
    LotKey? Lot,
    DateTimeOffset From,
    DateTimeOffset? To,
    StationCode? Station);

/// <summary>A unit was inside another one, from when to when.</summary>
/// <param name="Parent">The unit that it was put into.</param>
/// <param name="Position">Where.</param>
/// <param name="Component">The unit that was put in.</param>
/// <param name="Step">The step that put it in, if any.</param>
/// <param name="Record">The fact that put it in.</param>
/// <param name="From">When.</param>
/// <param name="To">When it was taken out; null while it is inside.</param>
public sealed record Installation(
    UnitKey Parent, Code Position, UnitKey Component, StepCode? Step, Guid Record, DateTimeOffset From, DateTimeOffset? To)
{
    /// <summary>By how much each of the two times may be wrong: the larger uncertainty of the clocks that told them.</summary>
    public TimeSpan Uncertainty { get; init; }
}
