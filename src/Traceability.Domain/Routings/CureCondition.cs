using Traceability.Domain.Cure;
using Traceability.Domain.Primitives;

namespace Traceability.Domain.Routings;

/// <summary>A minimum that depends on temperature: it is met when what was used at the start has cured to a state.</summary>
/// <param name="Requirement">The material requirement of the step that starts the interval; the recorded item's own table counts.</param>
/// <param name="State">The state.</param>
/// <param name="Fallback">The fixed minimum that holds where no readings or no table tell of it.</param>
/// <param name="ReadingGapMax">The longest time between two readings over which they tell the temperature.</param>
/// <param name="Place">Where the readings are taken; null: at the station where the step that starts the interval was recorded.</param>
public sealed record CureCondition(Code Requirement, CureState State, TimeSpan Fallback, TimeSpan ReadingGapMax, StationCode? Place);
