using Traceability.Contracts.Figures;

namespace Traceability.Contracts.Yield;

/// <summary>Yields of the steps of one item over a period.</summary>
/// <param name="Item">The item.</param>
/// <param name="From">The first day, in the calendar of the station's site.</param>
/// <param name="To">The last day, included.</param>
/// <param name="By">What the cells are told apart by, in their order.</param>
/// <param name="AsOf">When the answer was taken (RFC 3339, UTC): it holds every fact that was acknowledged before.</param>
/// <param name="Pending">How many changes that are not yet folded into the day counters were summed on the fly. For information: the answer holds them.</param>
/// <param name="Total">All cells together.</param>
/// <param name="Cells">One for each combination that has an attempt, ordered by <paramref name="By"/>.</param>
/// <param name="Completeness">What may be missing from it.</param>
public sealed record StepYields(
    string Item, DateOnly From, DateOnly To, IReadOnlyList<string> By, DateTimeOffset AsOf, long Pending, StepYieldFigures Total, IReadOnlyList<StepYieldCell> Cells,
    Completeness Completeness);

/// <summary>The figures of one combination. What was not asked for in <c>by</c> is null.</summary>
/// <param name="Day">The day on which the attempts were completed, in the calendar of the station's site.</param>
/// <param name="Station">The station; null also where the record names none.</param>
/// <param name="Variant">The unit's variant; null also for a unit without one.</param>
/// <param name="Step">The step.</param>
/// <param name="Revision">The routing revision that the attempts were judged by; null also where none applied.</param>
/// <param name="Figures">The figures.</param>
public sealed record StepYieldCell(DateOnly? Day, string? Station, string? Variant, string? Step, string? Revision, StepYieldFigures Figures);

/// <summary>What came of attempts at steps. Every attempt counts on the day, at the station and by the revision of its own completion.</summary>
/// <param name="FirstPassYield">
/// Of the units whose first attempt at the step was completed, those whose first attempt passed with no finding that counts
/// as a defect and was no rework. ISO 22400-2's first pass yield, for one step. Over several steps it is the share of first
/// attempts that passed, not the yield of whole units, and not rolled throughput yield.
/// </param>
/// <param name="Attempts">Attempts completed, the first ones included.</param>
/// <param name="Reworks">Of these, the attempts that were recorded as rework.</param>
/// <param name="Retests">Of these, the repeats that were not recorded as rework.</param>
/// <param name="ReworkedAttemptRatio">
/// Reworks of attempts. It counts attempts, so it is not ISO 22400-2's rework ratio, which counts units (RQ / PQ): a unit
/// that is reworked twice counts twice here.
/// </param>
/// <param name="DefectsPerAttempt">
/// Defects per attempt completed: ISO 13053-1's defects per unit (DPU) with a unit counted at each of its attempts, since
/// each attempt is judged for itself.
/// </param>
/// <param name="DefectsPerMillionOpportunities">
/// ISO 13053-1's DPMO. Opportunities are what was judged and could count as a defect: characteristics, materials,
/// components, tools and intervals. Defects that a person reports need no opportunity, so the figure may exceed a million;
/// it is undefined where nothing was judged.
/// </param>
public sealed record StepYieldFigures(
    Share FirstPassYield,
    long Attempts,
    long Reworks,
    long Retests,
    Share ReworkedAttemptRatio,
    Rate DefectsPerAttempt,
    Rate DefectsPerMillionOpportunities);
