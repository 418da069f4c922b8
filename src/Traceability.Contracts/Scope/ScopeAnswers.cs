using Traceability.Contracts.Facts;

namespace Traceability.Contracts.Scope;

/// <summary>The units that a suspect lot or container reaches or may have reached, through genealogy at any depth.</summary>
/// <param name="Factor">What is suspected.</param>
/// <param name="AsOf">The moment of asking: every fact acknowledged before it is in the answer.</param>
/// <param name="Totals">Counts over all members, whatever page is shown.</param>
/// <param name="Members">A page of the members, by item and serial.</param>
/// <param name="After">Give this as "after" to get the next page; null on the last.</param>
/// <param name="Cleared">Units that a record clears, where asked for with include=cleared; else null.</param>
/// <param name="ClearedAfter">Give this as "clearedAfter" to get the next page of those; null on the last.</param>
/// <param name="Presence">When and where the suspect could have been used.</param>
/// <param name="Completeness">What may be missing from the answer.</param>
/// <param name="Remarks">What a reader must know of the answer, in words; empty if nothing.</param>
public sealed record ScopeAnswer(
    ScopeFactor Factor,
    DateTimeOffset AsOf,
    ScopeTotals Totals,
    IReadOnlyList<ScopeMember> Members,
    string? After,
    IReadOnlyList<ClearedUnit>? Cleared,
    string? ClearedAfter,
    IReadOnlyList<ScopePresence> Presence,
    Completeness Completeness,
    IReadOnlyList<string> Remarks);

/// <summary>The units that a supplier's lot reaches or may have reached: the union over the lots that it came in as.</summary>
/// <param name="SupplierLot">The supplier's lot, as marked.</param>
/// <param name="Supplier">The supplier that was asked for; null: any.</param>
/// <param name="Lots">The lots that it came in as.</param>
/// <param name="AsOf">The moment of asking: every fact acknowledged before it is in the answer.</param>
/// <param name="Totals">Counts over all members, whatever page is shown.</param>
/// <param name="Members">A page of the members, by item and serial.</param>
/// <param name="After">Give this as "after" to get the next page; null on the last.</param>
/// <param name="Completeness">What may be missing from the answer.</param>
/// <param name="Remarks">What a reader must know of the answer, in words; empty if nothing.</param>
public sealed record SupplierLotScope(
    string SupplierLot,
    string? Supplier,
    IReadOnlyList<ScopeFactor> Lots,
    DateTimeOffset AsOf,
    ScopeTotals Totals,
    IReadOnlyList<SupplierLotMember> Members,
    string? After,
    Completeness Completeness,
    IReadOnlyList<string> Remarks);

/// <summary>A unit that a supplier's lot reaches or may have reached.</summary>
/// <param name="Member">The unit, by the surest way.</param>
/// <param name="Lots">All the lots that reach it, as item/lot.</param>
public sealed record SupplierLotMember(ScopeMember Member, IReadOnlyList<string> Lots);

/// <summary>What is suspected.</summary>
/// <param name="Kind">lot or container.</param>
/// <param name="Item">Item number.</param>
/// <param name="Lot">Lot number.</param>
/// <param name="Container">Container number; null for the whole lot.</param>
/// <param name="IsReceived">The lot was received; else it is only named by records.</param>
public sealed record ScopeFactor(string Kind, string Item, string Lot, string? Container, bool IsReceived);

/// <summary>Counts of the members and of the units that records clear.</summary>
/// <param name="Members">All members: proven and possible.</param>
/// <param name="Proven">A record says so.</param>
/// <param name="Possible">A record is missing, void or undecided.</param>
/// <param name="ClearNow">Of the members: exposed then and clear now.</param>
/// <param name="Cleared">Units whose record names another one, where and when the suspect could have been used; null where that isn't counted.</param>
/// <param name="Places">The members by where they are now.</param>
public sealed record ScopeTotals(int Members, int Proven, int Possible, int ClearNow, int? Cleared, IReadOnlyList<ScopePlaceTotal> Places);

/// <summary>Counts of the members at one place.</summary>
/// <param name="Place">in-process, on-hold, in-stock, shipped, returned, scrapped, or not-recorded.</param>
/// <param name="Proven">Proven members there.</param>
/// <param name="Possible">Possible members there.</param>
public sealed record ScopePlaceTotal(string Place, int Proven, int Possible);

/// <summary>A unit that the suspect reaches or may have reached.</summary>
/// <param name="Item">Item number.</param>
/// <param name="Serial">Serial number.</param>
/// <param name="Verdict">proven or possible.</param>
/// <param name="Now">Whether it carries the suspect now: proven, possible, or clear (exposed then and clear now).</param>
/// <param name="Reason">Why it is a member, in words.</param>
/// <param name="ExposedFrom">From when on, at the earliest; null: always.</param>
/// <param name="ExposedTo">Until when, at the latest; null: until now.</param>
/// <param name="Path">The evidence, from the unit to the suspect.</param>
/// <param name="Whereabouts">Where it is now.</param>
public sealed record ScopeMember(
    string Item,
    string Serial,
    string Verdict,
    string Now,
    string Reason,
    DateTimeOffset? ExposedFrom,
    DateTimeOffset? ExposedTo,
    IReadOnlyList<ScopeHop> Path,
    ScopeWhereabouts Whereabouts);

/// <summary>One hop of an evidence path.</summary>
/// <param name="Unit">The unit that the suspect reached by it.</param>
/// <param name="Kind">
/// recorded, sublot (every draw of the lot that is named is of the suspect, or of a mix that holds it), mixed-lot (material of the suspect went into it, beside
/// other material), one-of-several, each-of-several (whichever was used, it came wholly from the suspect), lot-missing, container-missing, piece-missing (a serial is missing, and a piece of the suspect lot
/// itself could have been put in), own-lot-missing (which lot the unit itself, or a component of which nothing is recorded, came in is not recorded), installed, serial-missing (a serial is missing, and the unit below could have been put in), itself (the unit is suspected itself),
/// tool-used, worked, measured, interval-ended (the record says so; where the member is only possible, it does not settle it), and
/// tool-missing, work-missing, measurement-missing, interval-missing (no record that counts says, and it could have been).
/// </param>
/// <param name="From">What it came from: the unit inside; null on the last hop, where it is the suspect.</param>
/// <param name="Evidence">The record.</param>
public sealed record ScopeHop(UnitRef Unit, string Kind, UnitRef? From, ScopeEvidence Evidence);

/// <summary>A record that tells of a use, of an installation, or that something is missing.</summary>
/// <param name="Record">Id of the fact; null where none was recorded.</param>
/// <param name="Step">Step code.</param>
/// <param name="What">The material requirement, the component's position, the tool requirement, the characteristic or the interval rule.</param>
/// <param name="Lot">The lot that it names, as item/lot.</param>
/// <param name="Container">The container that it names.</param>
/// <param name="Missing">Why something is missing: not-recorded, voided, step-not-recorded, unreadable; null where nothing is.</param>
/// <param name="From">The earliest time.</param>
/// <param name="To">The latest; null: until now.</param>
/// <param name="Station">Station.</param>
public sealed record ScopeEvidence(
    Guid? Record,
    string? Step,
    string? What,
    string? Lot,
    string? Container,
    string? Missing,
    DateTimeOffset From,
    DateTimeOffset? To,
    string? Station)
{
    /// <summary>What else the record says, in words: the tool, the person, the value, the duration; null if nothing.</summary>
    public string? Says { get; init; }
}

/// <summary>Where a unit is now.</summary>
/// <param name="Place">in-process, on-hold, in-stock, shipped, returned, scrapped, or not-recorded; of the unit that it is inside of, if any.</param>
/// <param name="Step">While in process: the last step that was started or completed.</param>
/// <param name="Since">Since when it is there.</param>
/// <param name="Consignee">While shipped: to whom.</param>
/// <param name="Inside">The outermost unit that it is inside of now; null if it is in none.</param>
public sealed record ScopeWhereabouts(string Place, string? Step, DateTimeOffset? Since, string? Consignee, UnitRef? Inside);

/// <summary>A unit that a record clears.</summary>
/// <param name="Item">Item number.</param>
/// <param name="Serial">Serial number.</param>
/// <param name="Evidence">The record that names another lot, or another container.</param>
public sealed record ClearedUnit(string Item, string Serial, ScopeEvidence Evidence);

/// <summary>A time in which the suspect could have been used.</summary>
/// <param name="From">From when on; null: always.</param>
/// <param name="To">Until when; null: until now.</param>
/// <param name="Stations">Where; empty: at every station.</param>
public sealed record ScopePresence(DateTimeOffset? From, DateTimeOffset? To, IReadOnlyList<string> Stations);
