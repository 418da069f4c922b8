using Traceability.Domain.Facts;
using Traceability.Domain.Primitives;

namespace Traceability.Domain.Cure;

/// <summary>Temperatures were read at a place: a station, or an oven, which is defined as a station of its own.</summary>
/// <param name="Place">Where they were read. (Not the station that reports: <see cref="Fact.Station"/>.)</param>
/// <param name="Readings">The readings; all of one day in UTC, by the reader's own clock.</param>
/// <remarks>They belong to the stream of that place and day, so that no stream grows without end.</remarks>
public sealed record TemperatureRecorded(StationCode Place, ImmutableArray<TemperatureReading> Readings) : Fact
{
    /// <summary>The day in UTC, by the reader's own clock: that of the first reading.</summary>
    public DateOnly Day => DateOnly.FromDateTime((Readings.IsDefaultOrEmpty || Readings[0] is null ? OccurredAt : Readings[0].At).UtcDateTime);
}

/// <summary>One reading.</summary>
/// <param name="At">When, by the reader's own clock.</param>
/// <param name="Temperature">The temperature as it was read.</param>
public sealed record TemperatureReading(DateTimeOffset At, EnteredQuantity Temperature);
