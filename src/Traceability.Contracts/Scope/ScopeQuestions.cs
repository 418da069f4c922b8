namespace Traceability.Contracts.Scope;

/// <summary>Which units does this reach, or may it have reached?</summary>
/// <param name="Suspect">What is suspected.</param>
public sealed record ScopeQuestion(SuspectNode Suspect);

/// <summary>The units that a suspect, or a combination of suspects, reaches or may have reached, through genealogy at any depth.</summary>
/// <param name="Suspect">What is suspected, as it was understood.</param>
/// <param name="Words">The same in words.</param>
/// <param name="AsOf">The moment of asking: every fact acknowledged before it is in the answer.</param>
/// <param name="Totals">Counts over all members, whatever page is shown.</param>
/// <param name="Members">A page of the members, by item and serial.</param>
/// <param name="After">Give this as "after" to get the next page; null on the last.</param>
/// <param name="Cleared">Units that a record clears, where asked for with include=cleared and where they are counted; else null.</param>
/// <param name="ClearedAfter">Give this as "clearedAfter" to get the next page of those; null on the last.</param>
/// <param name="Completeness">What may be missing from the answer.</param>
/// <param name="Remarks">What a reader must know of the answer, in words; empty if nothing.</param>
public sealed record ScopeQuestionAnswer(
    SuspectNode Suspect,
    string Words,
    DateTimeOffset AsOf,
    ScopeTotals Totals,
    IReadOnlyList<ScopeQuestionMember> Members,
    string? After,
    IReadOnlyList<ClearedUnit>? Cleared,
    string? ClearedAfter,
    Completeness Completeness,
    IReadOnlyList<string> Remarks);

/// <summary>A unit that is reached or may have been reached.</summary>
/// <param name="Item">Item number.</param>
/// <param name="Serial">Serial number.</param>
/// <param name="Verdict">proven or possible.</param>
/// <param name="Now">Whether it is reached now: proven, possible, or clear (exposed then and clear now).</param>
/// <param name="Reason">Why it is a member, in words.</param>
/// <param name="ExposedFrom">From when on, at the earliest; null: always.</param>
/// <param name="ExposedTo">Until when, at the latest; null: until now.</param>
/// <param name="Ways">What reached it: the best way of each suspect that did. Those that make it a member together come first.</param>
/// <param name="Whereabouts">Where it is now.</param>
public sealed record ScopeQuestionMember(
    string Item,
    string Serial,
    string Verdict,
    string Now,
    string Reason,
    DateTimeOffset? ExposedFrom,
    DateTimeOffset? ExposedTo,
    IReadOnlyList<ScopeMemberWay> Ways,
    ScopeWhereabouts Whereabouts);

/// <summary>How one suspect reached a unit.</summary>
/// <param name="Suspect">The suspect, in words.</param>
/// <param name="Verdict">proven or possible.</param>
/// <param name="Path">The evidence, from the unit to the suspect.</param>
public sealed record ScopeMemberWay(string Suspect, string Verdict, IReadOnlyList<ScopeHop> Path);
