using Traceability.Contracts.Figures;

namespace Traceability.Contracts.Yield;

/// <summary>Yields of whole units of one item over a period.</summary>
/// <param name="Item">The item.</param>
/// <param name="From">The first day, in the calendar of the site that ended the unit.</param>
/// <param name="To">The last day, included.</param>
/// <param name="By">What the cells are told apart by, in their order.</param>
/// <param name="AsOf">When the answer was taken (RFC 3339, UTC): it holds every fact that was acknowledged before.</param>
/// <param name="Pending">How many changes that are not yet folded into the day counters were summed on the fly. For information: the answer holds them.</param>
/// <param name="Total">All cells together.</param>
/// <param name="Cells">One for each combination in which a unit ended, ordered by <paramref name="By"/>.</param>
/// <param name="Completeness">What may be missing from it.</param>
public sealed record UnitYields(
    string Item, DateOnly From, DateOnly To, IReadOnlyList<string> By, DateTimeOffset AsOf, long Pending, UnitYieldFigures Total, IReadOnlyList<UnitYieldCell> Cells,
    Completeness Completeness);

/// <summary>The figures of one combination. What was not asked for in <c>by</c> is null.</summary>
/// <param name="Day">The day on which the units ended, in the calendar of the site that ended them.</param>
/// <param name="Variant">The variant; null also for units without one.</param>
/// <param name="Revision">The routing revision that applies to the units; null also where none does.</param>
/// <param name="Figures">The figures.</param>
public sealed record UnitYieldCell(DateOnly? Day, string? Variant, string? Revision, UnitYieldFigures Figures);

/// <summary>What came of units that ended: that were first released, or scrapped.</summary>
/// <param name="FirstPassYield">Of the units that ended, those that passed every step that applies to them at its first attempt, without rework.</param>
/// <param name="ScrapRatio">Of the units that ended, those that were scrapped: ISO 22400-2's scrap ratio (SQ / PQ), with the units that ended as PQ.</param>
public sealed record UnitYieldFigures(Share FirstPassYield, Share ScrapRatio);
