using Traceability.Contracts.Facts;
using Traceability.Contracts.Scope;

namespace Traceability.Contracts.Narrowing;

/// <summary>How would the scope shrink, and which missing facts would clear the most units?</summary>
/// <param name="Suspect">What is suspected.</param>
/// <param name="Alternatives">Narrower, or other, questions to compare with; at most 20.</param>
public sealed record NarrowingQuestion(SuspectNode Suspect, IReadOnlyList<NarrowingAlternativeQuestion>? Alternatives);

/// <summary>A question to compare with.</summary>
/// <param name="Name">A name of your own; null: the suspect in words.</param>
/// <param name="Suspect">What is suspected instead.</param>
public sealed record NarrowingAlternativeQuestion(string? Name, SuspectNode Suspect);

/// <summary>
/// What if: how the scope would shrink if less were suspected, and which missing facts would clear the most units. Nothing of it clears
/// anything: a unit is cleared by a record only.
/// </summary>
/// <param name="Suspect">What is suspected, as it was understood.</param>
/// <param name="Words">The same in words.</param>
/// <param name="AsOf">The moment of asking: every fact acknowledged before it is in the answer.</param>
/// <param name="Totals">Counts over all members of the question as it was asked.</param>
/// <param name="Alternatives">Narrower questions: the asker's first, then proposed ones.</param>
/// <param name="Facts">Missing facts that would clear the most units, each by itself, if they named something that isn't suspected; most first, of equal ones those that are in reach first.</param>
/// <param name="FactsAreRanked">true: no missing fact that isn't named clears more by itself. false: not all could be tried in the time.</param>
/// <param name="Groups">Alike missing facts on units of one item at one place, and what they would clear together.</param>
/// <param name="Order">A good order to look facts up in; not proven to be the best.</param>
/// <param name="Completeness">What may be missing from the answer.</param>
/// <param name="Remarks">What a reader must know of the answer, in words.</param>
public sealed record NarrowingAnswer(
    SuspectNode Suspect,
    string Words,
    DateTimeOffset AsOf,
    ScopeTotals Totals,
    IReadOnlyList<NarrowingAlternative> Alternatives,
    IReadOnlyList<NarrowingFact> Facts,
    bool FactsAreRanked,
    IReadOnlyList<NarrowingGroup> Groups,
    IReadOnlyList<NarrowingStep> Order,
    Completeness Completeness,
    IReadOnlyList<string> Remarks);

/// <summary>A narrower question and what it would reach.</summary>
/// <param name="By">asker, container, time, station or step.</param>
/// <param name="Name">Its name.</param>
/// <param name="Suspect">What would be suspected: to be asked for by itself.</param>
/// <param name="Words">The same in words.</param>
/// <param name="Members">All members it would have.</param>
/// <param name="Proven">Proven ones.</param>
/// <param name="Possible">Possible ones.</param>
/// <param name="Outside">Members of the question as it was asked that it would not reach.</param>
public sealed record NarrowingAlternative(
    string By, string Name, SuspectNode Suspect, string Words, int Members, int Proven, int Possible, int Outside);

/// <summary>A missing fact, and what it would clear.</summary>
/// <param name="Unit">The unit whose record it is.</param>
/// <param name="Step">Step code.</param>
/// <param name="What">The material or tool requirement, the component's position, the characteristic or the interval rule.</param>
/// <param name="Missing">What the fact would say: lot, container, serial, which-lot (of several that are recorded), tool, work, value or interval.</param>
/// <param name="Words">What to look for, in words.</param>
/// <param name="Record">The record that misses it; null where none was recorded.</param>
/// <param name="Whereabouts">Where the unit is now.</param>
/// <param name="Clears">How many members would be none any more.</param>
/// <param name="ClearsShown">Some of them; at most 20.</param>
public sealed record NarrowingFact(
    UnitRef Unit,
    string? Step,
    string? What,
    string Missing,
    string Words,
    Guid? Record,
    ScopeWhereabouts Whereabouts,
    int Clears,
    IReadOnlyList<UnitRef> ClearsShown);

/// <summary>Alike missing facts, and what they would clear together.</summary>
/// <param name="Words">What to look for, in words.</param>
/// <param name="Item">The units' item.</param>
/// <param name="Step">Step code.</param>
/// <param name="What">The material or tool requirement, the component's position, the characteristic or the interval rule.</param>
/// <param name="Missing">What the facts would say: lot, container, serial, which-lot, tool, work, value or interval.</param>
/// <param name="Place">Where the units are now: in-process, on-hold, in-stock, shipped, returned, scrapped, or not-recorded.</param>
/// <param name="Facts">How many facts.</param>
/// <param name="Units">The units whose records they are; at most 100.</param>
/// <param name="Clears">How many members would be none any more.</param>
public sealed record NarrowingGroup(
    string Words, string Item, string? Step, string? What, string Missing, string Place, int Facts, IReadOnlyList<UnitRef> Units, int Clears);

/// <summary>A step of an order to look facts up in.</summary>
/// <param name="Fact">The fact to look up next; it clears what those before it leave.</param>
/// <param name="ClearedSoFar">How many members it and those before it would clear together.</param>
public sealed record NarrowingStep(NarrowingFact Fact, int ClearedSoFar);
