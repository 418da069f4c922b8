using Traceability.Domain.Primitives;

namespace Traceability.Domain.Cure;

/// <summary>How long something may be used, by temperature, as its data sheet tells.</summary>
/// <param name="Rows">The rows, in any order.</param>
/// <param name="ReadingGapMax">The longest time between two readings over which they tell the temperature.</param>
/// <param name="Place">Where the readings are taken; null: at the station where the time started.</param>
public sealed record LifeTable(ImmutableArray<LifeRow> Rows, TimeSpan ReadingGapMax, StationCode? Place);

/// <summary>One row of such a table.</summary>
/// <param name="Temperature">The temperature, as the data sheet writes it.</param>
/// <param name="Time">How long it may be used at that temperature.</param>
public sealed record LifeRow(EnteredQuantity Temperature, TimeSpan Time);
