namespace Traceability.Contracts.Dispersion;

/// <summary>Lots by how many finished units carry them, widest first, from counts that are taken in the background.</summary>
/// <param name="CountedAt">When the counts were taken: every fact acknowledged before is in them; null while they never were.</param>
/// <param name="IsCurrent">Whether nothing was recorded since.</param>
/// <param name="Lots">A page of lots.</param>
/// <param name="After">Give this as "after" to get the next page; null on the last.</param>
/// <param name="Items">For each item on the page, what mixing its lots costs.</param>
/// <param name="Remarks">What a reader must know of the answer, in words.</param>
public sealed record LotDispersions(
    DateTimeOffset? CountedAt,
    bool IsCurrent,
    IReadOnlyList<LotDispersion> Lots,
    string? After,
    IReadOnlyList<ItemDispersion> Items,
    IReadOnlyList<string> Remarks);

/// <summary>How widely a lot is spread: its downward dispersion.</summary>
/// <param name="Item">Item number.</param>
/// <param name="Lot">Lot number.</param>
/// <param name="Units">Units whose own record names it.</param>
/// <param name="FinishedUnits">Units that carry it and are inside no other unit now: those to look at if the lot is bad.</param>
/// <param name="Shipped">Of those, the ones that are with a consignee now.</param>
/// <param name="Shipments">Shipments that they are in: one for each consignee and calendar day (UTC).</param>
/// <param name="Consignees">Consignees that have one.</param>
/// <param name="UsedFrom">The earliest time of a use.</param>
/// <param name="UsedTo">The latest time of a use.</param>
public sealed record LotDispersion(
    string Item,
    string Lot,
    int Units,
    int FinishedUnits,
    int Shipped,
    int Shipments,
    int Consignees,
    DateTimeOffset UsedFrom,
    DateTimeOffset UsedTo);

/// <summary>How widely the lots of an item are spread over finished units, and what mixing them costs.</summary>
/// <param name="Item">Item number.</param>
/// <param name="Lots">Lots that records name.</param>
/// <param name="FinishedUnits">Finished units that carry at least one of them.</param>
/// <param name="Links">Pairs of a lot and a finished unit that carries it: the batch dispersion.</param>
/// <param name="LotsPerUnit">Upward dispersion: lots in a finished unit, on average.</param>
/// <param name="LotsPerUnitMost">The most lots in one finished unit.</param>
/// <param name="UnitsPerLot">Downward dispersion: finished units that carry a lot, on average.</param>
/// <param name="LinksLeast">The fewest links that there could be: the larger of lots and finished units.</param>
/// <param name="LinksOneAfterAnother">The most links that there would be, had lots been used up one after another: lots + finished units − 1.</param>
/// <param name="LinksByMixing">Links beyond that.</param>
/// <param name="Words">The same in words.</param>
public sealed record ItemDispersion(
    string Item,
    long Lots,
    long FinishedUnits,
    long Links,
    double? LotsPerUnit,
    long LotsPerUnitMost,
    double? UnitsPerLot,
    long LinksLeast,
    long LinksOneAfterAnother,
    long LinksByMixing,
    string Words);

/// <summary>How widely one lot is spread, counted at the moment of asking.</summary>
/// <param name="AsOf">The moment of asking: every fact acknowledged before it is in the answer.</param>
/// <param name="Lot">The counts; zero and without times where no record names the lot.</param>
/// <param name="Places">The finished units by where they are.</param>
/// <param name="Consignees">Who has them, most units first; at most 100.</param>
/// <param name="ConsigneesMore">How many more consignees there are.</param>
/// <param name="Mixing">What mixing the lots of the item costs, from the counts taken in the background; null while they never were.</param>
/// <param name="MixingCountedAt">When those were taken.</param>
/// <param name="Completeness">What may be missing from the answer.</param>
/// <param name="Remarks">What a reader must know of the answer, in words.</param>
public sealed record LotDispersionAnswer(
    DateTimeOffset AsOf,
    LotSpread Lot,
    IReadOnlyList<DispersionPlace> Places,
    IReadOnlyList<DispersionConsignee> Consignees,
    int ConsigneesMore,
    ItemDispersion? Mixing,
    DateTimeOffset? MixingCountedAt,
    Completeness Completeness,
    IReadOnlyList<string> Remarks);

/// <summary>The counts of one lot; as in <see cref="LotDispersion"/>.</summary>
/// <param name="Item">Item number.</param>
/// <param name="Lot">Lot number.</param>
/// <param name="Units">Units whose own record names it.</param>
/// <param name="FinishedUnits">Units that carry it and are inside no other unit now.</param>
/// <param name="Shipped">Of those, the ones that are with a consignee now.</param>
/// <param name="Shipments">Shipments that they are in: one for each consignee and calendar day (UTC).</param>
/// <param name="Consignees">Consignees that have one.</param>
/// <param name="UsedFrom">The earliest time of a use; null if there is none.</param>
/// <param name="UsedTo">The latest time of a use; null if there is none.</param>
public sealed record LotSpread(
    string Item,
    string Lot,
    int Units,
    int FinishedUnits,
    int Shipped,
    int Shipments,
    int Consignees,
    DateTimeOffset? UsedFrom,
    DateTimeOffset? UsedTo);

/// <summary>Finished units at one place.</summary>
/// <param name="Place">in-process, on-hold, in-stock, shipped, returned, scrapped, or not-recorded.</param>
/// <param name="Units">How many.</param>
public sealed record DispersionPlace(string Place, int Units);

/// <summary>A consignee who has finished units of the lot.</summary>
/// <param name="Consignee">The name as recorded.</param>
/// <param name="Units">How many.</param>
/// <param name="Shipments">In how many shipments: one for each calendar day (UTC).</param>
public sealed record DispersionConsignee(string Consignee, int Units, int Shipments);
