using Traceability.Domain.Scope;

namespace Traceability.Domain.Narrowing;

/// <summary>One fact that is missing: what one requirement, position, characteristic or rule of one record or step of a unit was served by.</summary>
/// <param name="Unit">The unit, as item/serial.</param>
/// <param name="Record">The record; empty where there is none.</param>
/// <param name="Step">The step; null if none.</param>
/// <param name="What">The requirement, position, characteristic or rule; null if none.</param>
public readonly record struct FactKey(string Unit, Guid Record, string? Step, string? What)
{
    /// <summary>Where it is not of material or a component: of what; codes of different kinds may be the same.</summary>
    public FactMissing? Of { get; init; }
}

/// <summary>A missing fact, and what it would clear if it named something that nobody suspects.</summary>
/// <param name="Fact">The fact.</param>
/// <param name="Missing">What it would say.</param>
/// <param name="Evidence">A row that waits for it.</param>
/// <param name="Whereabouts">Where its unit is now.</param>
/// <param name="Cleared">The members that would be none any more, ordered by name (ordinal).</param>
public sealed record ClearingFact(FactKey Fact, FactMissing Missing, EvidenceRow Evidence, Whereabouts Whereabouts, ImmutableArray<string> Cleared);

/// <summary>Missing facts of one kind, on units of one item at one place, and what they would clear together.</summary>
/// <param name="Item">The units' item.</param>
/// <param name="Step">The step; null if none.</param>
/// <param name="What">The requirement or position; null if none.</param>
/// <param name="Missing">What they would say.</param>
/// <param name="Place">Where the units are now; null: not recorded.</param>
/// <param name="Facts">The facts, ordered by unit (ordinal).</param>
/// <param name="Cleared">The members that would be none any more.</param>
public sealed record ClearingGroup(
    string Item, string? Step, string? What, FactMissing Missing, Judging.Place? Place, ImmutableArray<FactKey> Facts, ImmutableArray<string> Cleared);

/// <summary>A step of an order in which facts would be looked up.</summary>
/// <param name="Fact">The fact to look up next.</param>
/// <param name="ClearedSoFar">How many members it and those before it would clear together.</param>
public sealed record ClearingStep(ClearingFact Fact, int ClearedSoFar);

/// <summary>Which missing facts would clear the most members.</summary>
/// <param name="Possible">How many members are possible.</param>
/// <param name="Candidates">How many missing facts the surest ways of the possible members hang on, of those looked at.</param>
/// <param name="Tried">How many of them were tried one by one.</param>
/// <param name="IsCut">There are more candidates than were looked at.</param>
/// <param name="IsRanked">The facts named are surely those that clear the most by themselves; else some that weren't tried may clear more.</param>
/// <param name="Facts">Those that clear the most by themselves, most first; of equal ones those that are in reach first.</param>
/// <param name="Groups">The largest groups of alike facts.</param>
/// <param name="Order">
/// A good order: next is always the fact that the surest ways of most of those left hang on. It is not proven to be the best.
/// </param>
public sealed record MissingFacts(
    int Possible,
    int Candidates,
    int Tried,
    bool IsCut,
    bool IsRanked,
    ImmutableArray<ClearingFact> Facts,
    ImmutableArray<ClearingGroup> Groups,
    ImmutableArray<ClearingStep> Order);

/// <summary>Bounds of a search for missing facts.</summary>
/// <param name="Candidates">The most rows of evidence that are looked at.</param>
/// <param name="Tries">The most facts that are tried one by one.</param>
/// <param name="Facts">The most facts that are named.</param>
/// <param name="Groups">The most groups.</param>
/// <param name="Steps">The most steps of the order.</param>
public sealed record MissingFactLimits(int Candidates, int Tries, int Facts, int Groups, int Steps)
{
    /// <summary>What an answer has: some fifty walks at most.</summary>
    public static MissingFactLimits Default { get; } = new(Candidates: 5_000, Tries: 30, Facts: 10, Groups: 8, Steps: 10);
}
