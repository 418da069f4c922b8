using Traceability.Contracts.Facts;

namespace Traceability.Contracts.Revisions;

/// <summary>What two revisions of a routing have different.</summary>
/// <param name="Item">The item's number.</param>
/// <param name="From">The first revision.</param>
/// <param name="To">The second.</param>
/// <param name="Changes">Every difference; none if the two ask the same.</param>
public sealed record RevisionDifference(string Item, string From, string To, IReadOnlyList<RevisionChangeView> Changes);

/// <summary>One difference.</summary>
/// <param name="Kind">added, removed, changed or reordered.</param>
/// <param name="Part">revision, step, caution, characteristic, material, component, tool or interval.</param>
/// <param name="Step">Code of the step that it belongs to; null for the revision itself and for interval rules.</param>
/// <param name="Code">Code or position of the part; "" where it has none.</param>
/// <param name="Member">The member that differs; "" where the whole part was added or removed.</param>
/// <param name="Before">What the first says, in words; null if it has no such part.</param>
/// <param name="Now">What the second says, in words; null if it has no such part.</param>
/// <param name="Sentence">The difference for a person.</param>
public sealed record RevisionChangeView(
    string Kind, string Part, string? Step, string Code, string Member, string? Before, string? Now, string Sentence);

/// <summary>Which units the released revisions of a routing apply to, and where two of them meet.</summary>
/// <param name="Item">The item's number.</param>
/// <param name="Revisions">The released revisions, oldest release first. Of those that apply to a unit the last is effective.</param>
/// <param name="Overlaps">Every pair that applies to some same unit.</param>
public sealed record RoutingEffectivity(string Item, IReadOnlyList<RevisionEffectivity> Revisions, IReadOnlyList<RevisionOverlap> Overlaps);

/// <summary>Which units one revision applies to.</summary>
/// <param name="Revision">The revision.</param>
/// <param name="Units">The units in words.</param>
/// <param name="Effectivity">The same as it was released.</param>
/// <param name="IsEffectiveForNone">Whether one later release applies to every unit that it applies to.</param>
public sealed record RevisionEffectivity(string Revision, string Units, Effectivity Effectivity, bool IsEffectiveForNone);

/// <summary>Two revisions that meet.</summary>
/// <param name="Earlier">The one released first.</param>
/// <param name="Later">The one released later, which is effective where both apply.</param>
/// <param name="Where">The units that both apply to, in words.</param>
/// <param name="IsWhole">Whether the later one applies to every unit of the earlier one.</param>
public sealed record RevisionOverlap(string Earlier, string Later, string Where, bool IsWhole);

/// <summary>Which units are to move to another revision, and by whose decision.</summary>
public sealed record MovePlanQuestion
{
    /// <summary>The released revision to move to.</summary>
    public required string To { get; init; }

    /// <summary>Only units that this revision applies to now; null: any.</summary>
    public string? From { get; init; }

    /// <summary>Only units from this serial on (ordered by length, then by character).</summary>
    public string? SerialFrom { get; init; }

    /// <summary>Only units up to this serial.</summary>
    public string? SerialTo { get; init; }

    /// <summary>Why, in words; 1 to 2,000 characters. It goes into the facts that carry the plan out.</summary>
    public required string Reason { get; init; }

    /// <summary>The code of the person who authorises it.</summary>
    public required string AuthorisedBy { get; init; }

    /// <summary>The most units, 1 to 200; 100 if left out.</summary>
    public int? Limit { get; init; }

    /// <summary>Units after this serial: what the page before said.</summary>
    public string? After { get; init; }
}

/// <summary>What moving units in process to another revision comes to. Nothing is recorded by asking.</summary>
/// <param name="Item">The item's number.</param>
/// <param name="To">The revision to move to.</param>
/// <param name="PlannedAt">The moment that the plan is for.</param>
/// <param name="Units">The units in process that were asked for, by serial.</param>
/// <param name="After">Give this as "after" to get the next page; null on the last.</param>
/// <param name="Completeness">What may be missing from it.</param>
public sealed record MovePlan(
    string Item, string To, DateTimeOffset PlannedAt, IReadOnlyList<UnitMovePlan> Units, string? After, Completeness Completeness);

/// <summary>What the move of one unit comes to.</summary>
/// <param name="Unit">The unit.</param>
/// <param name="Version">The unit's version that this is told of.</param>
/// <param name="From">The revision that applies now; null if none does.</param>
/// <param name="Verdict">can-move, already-there or cannot-move.</param>
/// <param name="CarriesOver">Completed steps that stay valid.</param>
/// <param name="Again">Completed steps that must be done again, each with the reasons.</param>
/// <param name="Dropped">Codes of completed steps that the new revision does not ask of this unit.</param>
/// <param name="Open">Codes of the steps that are not done under the new revision.</param>
/// <param name="Obstacles">Why it can't move.</param>
/// <param name="Notes">What else to know before deciding.</param>
/// <param name="Fact">Post this to carry it out; null unless it can move. It is refused if the unit has changed since, and repeating it is harmless.</param>
public sealed record UnitMovePlan(
    UnitRef Unit,
    int Version,
    string? From,
    string Verdict,
    IReadOnlyList<MovedStepView> CarriesOver,
    IReadOnlyList<MovedStepView> Again,
    IReadOnlyList<string> Dropped,
    IReadOnlyList<string> Open,
    IReadOnlyList<MoveObstacleView> Obstacles,
    IReadOnlyList<string> Notes,
    FactMessage? Fact);

/// <summary>One completed step and what becomes of it.</summary>
/// <param name="Step">The step's code.</param>
/// <param name="Attempt">The attempt that counts now.</param>
/// <param name="Passed">Whether that attempt passed.</param>
/// <param name="Why">For a step to be done again: each reason.</param>
public sealed record MovedStepView(string Step, int Attempt, bool Passed, IReadOnlyList<string> Why);

/// <summary>One reason why a unit can't move.</summary>
/// <param name="Kind">no-revision, not-in-process, not-for-unit, point-of-no-return-passed or unreadable.</param>
/// <param name="Step">Code of the step; null for a reason that concerns the unit as a whole.</param>
/// <param name="Message">For a person.</param>
public sealed record MoveObstacleView(string Kind, string? Step, string Message);
