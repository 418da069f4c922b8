using Traceability.Contracts.Facts;

namespace Traceability.Contracts.Containments;

/// <summary>The last thing that was recorded of following up a member.</summary>
/// <param name="Outcome">What came of it, such as inspected-good.</param>
/// <param name="IsFinal">Nothing more is to be done about the member.</param>
/// <param name="At">When.</param>
/// <param name="Person">Who.</param>
/// <param name="Note">Free text.</param>
/// <param name="Record">The fact.</param>
/// <param name="Evidence">The ids of records that show it.</param>
public sealed record MemberOutcomeView(
    string Outcome, bool IsFinal, DateTimeOffset At, string? Person, string? Note, Guid Record, IReadOnlyList<Guid> Evidence);

/// <summary>Where a member is now.</summary>
/// <param name="Inside">The outermost unit that it is inside of; null if it is in none.</param>
/// <param name="Place">Where that one, or the member itself, stands: in-process, on-hold, in-stock, shipped, returned, scrapped.</param>
/// <param name="Step">While in process: the last step that was started or completed.</param>
/// <param name="Since">Since when.</param>
/// <param name="Consignee">While shipped: to whom.</param>
public sealed record MemberPlace(UnitRef? Inside, string Place, string? Step, DateTimeOffset? Since, string? Consignee);

/// <summary>A member of a containment.</summary>
/// <param name="Unit">The unit.</param>
/// <param name="Verdict">proven, possible, or not-reached: the last run that found a difference no longer reached it.</param>
/// <param name="Why">By which way it is or was reached, in words, as the run that found it told.</param>
/// <param name="Evidence">The record that the way rests on; null where it rests on a gap.</param>
/// <param name="Run">The run that found it.</param>
/// <param name="FoundAt">The moment of that run.</param>
/// <param name="FoundBy">The fact that brought it into the case.</param>
/// <param name="PlaceFound">Where it was then.</param>
/// <param name="IsLate">It was not among those that the first run found.</param>
/// <param name="IsAcknowledged">Of one that came late: a person has taken note.</param>
/// <param name="Now">Where it is now.</param>
/// <param name="IsHeldByCase">A hold in the name of the case stops it, or the unit that it is inside of.</param>
/// <param name="Holds">All holds that stand on that unit and on it, by name; "*" is one without a name.</param>
/// <param name="HeldAt">When the case first stopped it.</param>
/// <param name="LiftedAt">When the case's hold was lifted, while it is.</param>
/// <param name="Outcome">What came of following it up; null: nothing is recorded.</param>
public sealed record ContainmentMemberView(
    UnitRef Unit,
    string Verdict,
    string? Why,
    Guid? Evidence,
    int Run,
    DateTimeOffset FoundAt,
    Guid FoundBy,
    string PlaceFound,
    bool IsLate,
    bool IsAcknowledged,
    MemberPlace Now,
    bool IsHeldByCase,
    IReadOnlyList<string> Holds,
    DateTimeOffset? HeldAt,
    DateTimeOffset? LiftedAt,
    MemberOutcomeView? Outcome);

/// <summary>A page of members, by unit.</summary>
/// <param name="AsOf">The moment of asking.</param>
/// <param name="Members">The members.</param>
/// <param name="After">Give this as "after" to get the next page; null on the last.</param>
/// <param name="Completeness">What may be missing from where they are now.</param>
public sealed record ContainmentMemberPage(DateTimeOffset AsOf, IReadOnlyList<ContainmentMemberView> Members, string? After, Completeness Completeness);

/// <summary>A member that a consignee has.</summary>
/// <param name="Unit">The member.</param>
/// <param name="Shipped">The unit that was shipped: the member, or the outermost unit that it is inside of.</param>
/// <param name="ShippedAt">When.</param>
/// <param name="OrderReference">The order, where the shipment names one.</param>
/// <param name="Verdict">proven, possible or not-reached.</param>
/// <param name="Outcome">What came of following it up; null: nothing is recorded.</param>
public sealed record ConsignedMember(
    UnitRef Unit, UnitRef Shipped, DateTimeOffset? ShippedAt, string? OrderReference, string Verdict, MemberOutcomeView? Outcome);

/// <summary>A consignee with the members that it has.</summary>
/// <param name="Consignee">The consignee, as it was recorded.</param>
/// <param name="Members">The members on this page.</param>
public sealed record ConsigneeView(string Consignee, IReadOnlyList<ConsignedMember> Members);

/// <summary>A page of consignees with the members that they have, by consignee and unit; a page counts members.</summary>
/// <param name="AsOf">The moment of asking.</param>
/// <param name="Consignees">The consignees.</param>
/// <param name="After">Give this as "after" to get the next page; null on the last.</param>
/// <param name="Completeness">What may be missing.</param>
public sealed record ConsigneePage(DateTimeOffset AsOf, IReadOnlyList<ConsigneeView> Consignees, string? After, Completeness Completeness);

/// <summary>What became of a member when holds were set.</summary>
/// <param name="Unit">The member.</param>
/// <param name="Stopped">The unit that the hold is on: the member, or the outermost unit that it is inside of; null where there is none.</param>
/// <param name="Result">held, already-held, lifted, settled (its outcome asks for no hold), left, scrapped, or refused.</param>
/// <param name="Detail">Of one that was refused: why.</param>
public sealed record HoldResult(UnitRef Unit, UnitRef? Stopped, string Result, string? Detail);

/// <summary>What became of the members when holds were set.</summary>
/// <param name="Results">How many members came to each result.</param>
/// <param name="Units">The members, those first that something was done about; at most 1,000. The list of members tells all.</param>
public sealed record HoldsSet(IReadOnlyList<NamedCount> Results, IReadOnlyList<HoldResult> Units);

/// <summary>What is sent to set the holds of a containment.</summary>
public sealed record ContainmentHoldsRequest
{
    /// <summary>The code of the person who has it done.</summary>
    public required string Person { get; init; }
}
