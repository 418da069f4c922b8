using Traceability.Domain.Facts;
using Traceability.Domain.Judging;
using Traceability.Domain.Primitives;
using Traceability.Domain.Scope;

namespace Traceability.Domain.Containments;

/// <summary>A fact about one containment; it belongs to that containment's stream.</summary>
public interface IContainmentFact
{
    /// <summary>The containment.</summary>
    ContainmentId Containment { get; }
}

/// <summary>A fact that the service itself records about a containment; nobody sends it, corrects it or voids it.</summary>
public interface IFoundByService : IContainmentFact;

/// <summary>A person put a scope under a case.</summary>
/// <param name="Containment">The number of the case.</param>
/// <param name="Title">What it is called.</param>
/// <param name="Reason">Why, in words.</param>
/// <param name="Question">The suspect that is asked for, as JSON in the form of the scope's questions.</param>
/// <param name="QuestionInWords">The same in words, as it read then.</param>
/// <param name="HoldsLate">Members that are found late are held without being asked for.</param>
public sealed record ContainmentOpened(
    ContainmentId Containment, string Title, string Reason, string Question, string QuestionInWords, bool HoldsLate) : Fact, IFoundByService;

/// <summary>A unit as a run of the question found it.</summary>
/// <param name="Unit">The unit.</param>
/// <param name="Verdict">How sure it is that it is reached; null: it was a member and is no longer reached.</param>
/// <param name="Place">Where it was then.</param>
/// <param name="Why">By which way it is reached, in words; null where it is not.</param>
/// <param name="Record">The record that the way rests on; null where it rests on none, as with a gap.</param>
public sealed record ContainedUnit(UnitKey Unit, ScopeVerdict? Verdict, Place Place, string? Why, Guid? Record);

/// <summary>A run of the question found members that were not known, or known members otherwise than before.</summary>
/// <param name="Containment">The containment.</param>
/// <param name="Run">Which run it was, from 1.</param>
/// <param name="AsOf">The moment of the run.</param>
/// <param name="Units">The units, each once; a run with many comes as several facts.</param>
public sealed record ContainmentMembersFound(
    ContainmentId Containment, int Run, DateTimeOffset AsOf, ImmutableArray<ContainedUnit> Units) : Fact, IFoundByService;

/// <summary>A run of the question ended: everything that it found is recorded.</summary>
/// <param name="Containment">The containment.</param>
/// <param name="Run">Which run it was, from 1: the first one froze the scope.</param>
/// <param name="AsOf">The moment of the run.</param>
/// <param name="IsComplete">Every record that the answer rests on could be read, and every judgement in it was up to date.</param>
/// <param name="MemberCount">How many units were reached.</param>
/// <param name="Added">How many of them were not known.</param>
/// <param name="Changed">How many were known with another verdict, or as no longer reached.</param>
/// <param name="NotReached">How many known ones are no longer reached; they stay members.</param>
/// <param name="Remarks">What the answer said of itself, in words.</param>
public sealed record ContainmentScoped(
    ContainmentId Containment, int Run, DateTimeOffset AsOf, bool IsComplete, int MemberCount, int Added, int Changed, int NotReached, ImmutableArray<string> Remarks) : Fact, IFoundByService;

/// <summary>Holds in the name of a containment were placed or lifted. The holds themselves are facts about the units.</summary>
/// <param name="Containment">The containment.</param>
/// <param name="Placed">Members that are stopped by it, each by a hold on itself or on the unit that it is inside of.</param>
/// <param name="Lifted">Members that it no longer stops.</param>
public sealed record ContainmentHoldsSet(
    ContainmentId Containment, ImmutableArray<UnitKey> Placed, ImmutableArray<UnitKey> Lifted) : Fact, IFoundByService;

/// <summary>What came of following up a member.</summary>
public enum FollowUpOutcome
{
    /// <summary>Inspected, and nothing was found on it. Final; it lifts the hold.</summary>
    InspectedGood,

    /// <summary>Reworked or repaired. Final; it lifts the hold.</summary>
    Reworked,

    /// <summary>Records show that it does not carry the suspect. Final; it lifts the hold.</summary>
    NotAffected,

    /// <summary>The consignee got another one for it. Final.</summary>
    Replaced,

    /// <summary>Scrapped. Final.</summary>
    Scrapped,

    /// <summary>The consignee was told and keeps it, by a decision. Final.</summary>
    LeftWithConsignee,

    /// <summary>Nobody could be reached who has it. Final.</summary>
    NotReachable,

    /// <summary>It came back and waits for what is to become of it. Not final.</summary>
    Returned,

    /// <summary>The consignee was told; an answer is awaited. Not final.</summary>
    ConsigneeNotified,
}

/// <summary>A person followed up members of a containment.</summary>
/// <param name="Containment">The containment.</param>
/// <param name="Units">The members, each once.</param>
/// <param name="Outcome">What came of it.</param>
/// <param name="Note">Free text; some outcomes need one.</param>
/// <param name="Evidence">Records that show it.</param>
public sealed record FollowUpRecorded(
    ContainmentId Containment, ImmutableArray<UnitKey> Units, FollowUpOutcome Outcome, string? Note, ImmutableArray<Guid> Evidence) : Fact, IContainmentFact;

/// <summary>A person closed a containment: every member has a final outcome.</summary>
/// <param name="Containment">The containment.</param>
/// <param name="Conclusion">What came of it, in words.</param>
public sealed record ContainmentClosed(ContainmentId Containment, string Conclusion) : Fact, IContainmentFact;

/// <summary>A person opened a closed containment again.</summary>
/// <param name="Containment">The containment.</param>
/// <param name="Reason">Why, in words.</param>
public sealed record ContainmentReopened(ContainmentId Containment, string Reason) : Fact, IContainmentFact;

/// <summary>A person took note of all that was found late so far; the alarm ends.</summary>
/// <param name="Containment">The containment.</param>
/// <param name="Note">Free text.</param>
public sealed record LateMembersAcknowledged(ContainmentId Containment, string? Note) : Fact, IContainmentFact;

/// <summary>What outcomes mean.</summary>
public static class FollowUpOutcomes
{
    /// <summary>Whether nothing more is to be done about a member with this outcome.</summary>
    public static bool IsFinal(this FollowUpOutcome outcome) => outcome is not (FollowUpOutcome.Returned or FollowUpOutcome.ConsigneeNotified);

    /// <summary>Whether a member with this outcome need not be stopped any longer by the containment.</summary>
    public static bool LiftsHold(this FollowUpOutcome outcome) =>
        outcome is FollowUpOutcome.InspectedGood or FollowUpOutcome.Reworked or FollowUpOutcome.NotAffected;

    /// <summary>Whether it says something only with a note: who decided, what was tried, which records show it.</summary>
    public static bool NeedsNote(this FollowUpOutcome outcome) =>
        outcome is FollowUpOutcome.NotAffected or FollowUpOutcome.LeftWithConsignee or FollowUpOutcome.NotReachable;
}
