using Traceability.Contracts.Facts;

namespace Traceability.Contracts.Lots;

/// <summary>Which lots a lot was made of, and which were made of it, at any depth.</summary>
/// <param name="Item">Item number.</param>
/// <param name="Lot">Lot number.</param>
/// <param name="Sources">Where its material came from, oldest first.</param>
/// <param name="Derived">Where its material went, oldest first.</param>
public sealed record LotLineageView(string Item, string Lot, IReadOnlyList<LotLinkView> Sources, IReadOnlyList<LotLinkView> Derived);

/// <summary>Material went from one lot into another.</summary>
/// <param name="From">The lot that it was taken out of.</param>
/// <param name="Into">The lot that it went into.</param>
/// <param name="Kind">split: a new lot was made of it; merged: it was put to what was there; mixed: it became a part of a mix.</param>
/// <param name="At">When.</param>
/// <param name="Quantity">How much.</param>
/// <param name="Container">The container that it was taken out of.</param>
/// <param name="Record">Id of the fact.</param>
public sealed record LotLinkView(LotRef From, LotRef Into, string Kind, DateTimeOffset At, QuantityValue? Quantity, string? Container, Guid Record);

/// <summary>
/// What went into a lot, what left it by record and what that leaves unexplained, as of the last count of the whole lot:
/// received + merged in + corrected − split off − discarded − used − on hand. Null: it can't be computed, and an obstacle says why.
/// </summary>
/// <param name="Item">Item number.</param>
/// <param name="Lot">Lot number.</param>
/// <param name="AsOf">The last count of the whole lot, or when it was emptied.</param>
/// <param name="Unit">UCUM code of all terms.</param>
/// <param name="Received">What was received.</param>
/// <param name="MergedIn">What came out of other lots.</param>
/// <param name="Corrected">What counts booked in, less what they booked out.</param>
/// <param name="SplitOff">What was taken out for other lots.</param>
/// <param name="Discarded">What was thrown away by record.</param>
/// <param name="UsedLeast">What was surely used on units.</param>
/// <param name="UsedMost">The same with what may have been used: one of several lots, or before or after the count.</param>
/// <param name="OnHand">What is there.</param>
/// <param name="UnexplainedLeast">The least that is unexplained; below zero where more left by record than came in.</param>
/// <param name="UnexplainedMost">The most that is unexplained.</param>
/// <param name="LeastPerUnit">The least that a unit takes, by the released routings.</param>
/// <param name="UnitsMost">How many units the unexplained could be, at most.</param>
/// <param name="Obstacles">Why something can't be computed.</param>
public sealed record LotBalanceView(
    string Item,
    string Lot,
    DateTimeOffset? AsOf,
    string? Unit,
    decimal? Received,
    decimal? MergedIn,
    decimal? Corrected,
    decimal? SplitOff,
    decimal? Discarded,
    decimal? UsedLeast,
    decimal? UsedMost,
    decimal? OnHand,
    decimal? UnexplainedLeast,
    decimal? UnexplainedMost,
    QuantityValue? LeastPerUnit,
    long? UnitsMost,
    IReadOnlyList<string> Obstacles);
