namespace Traceability.Contracts.Facts;

/// <summary>Temperatures were read at a place: a station, or an oven, which is defined as a station of its own.</summary>
/// <remarks>Several readings in one fact are better than a fact for each: every such fact makes the service look at its definitions anew.</remarks>
public sealed record TemperatureRecorded : FactMessage
{
    /// <summary>The code of the station or oven where they were read. (Not the station that reports.)</summary>
    public required string Place { get; init; }

    /// <summary>The readings: 1 to 500, all of one day in UTC, none later than this report.</summary>
    public required IReadOnlyList<TemperatureReading> Readings { get; init; }
}

/// <summary>One reading of a temperature.</summary>
public sealed record TemperatureReading
{
    /// <summary>When, by the reader's own clock, with its offset from UTC.</summary>
    public required DateTimeOffset At { get; init; }

    /// <summary>The temperature, in a unit of temperature such as Cel.</summary>
    public required QuantityValue Temperature { get; init; }
}

/// <summary>The times that a consumable takes to cure, by temperature, as its data sheet tells them.</summary>
/// <remarks>
/// Between two rows ln(time) is interpolated over 1/T (Arrhenius). Nothing is extrapolated: below the coldest row it earns no cure,
/// above the hottest the time of the hottest row counts.
/// </remarks>
public sealed record CureTable
{
    /// <summary>The rows, in any order; a hotter row must not take longer.</summary>
    public required IReadOnlyList<CureRow> Rows { get; init; }
}

/// <summary>The times at one temperature; at least one of the two.</summary>
public sealed record CureRow
{
    /// <summary>The temperature, in a unit of temperature such as Cel.</summary>
    public required QuantityValue Temperature { get; init; }

    /// <summary>The time until the part can be handled; null: not told. Written as an ISO 8601 duration.</summary>
    public TimeSpan? Handling { get; init; }

    /// <summary>The time to full strength; null: not told. Written as an ISO 8601 duration.</summary>
    public TimeSpan? Full { get; init; }
}

/// <summary>What a consumable cures to.</summary>
public enum CureState
{
    /// <summary>It holds well enough for the part to be handled.</summary>
    Handling,

    /// <summary>It has its full strength.</summary>
    Full,
}

/// <summary>A minimum that depends on temperature: it is met when what was used at the start has cured to a state.</summary>
/// <remarks>
/// The dose is the integral of dt / time(T(t)) over the readings, and the minimum is met when it reaches 1. Between two readings the
/// temperature is taken to be linear in time, after the last one to stay for <see cref="ReadingGapMax"/>; where no reading tells, no dose is
/// earned. A cure is followed for 31 days from its start.
/// </remarks>
public sealed record CureCondition
{
    /// <summary>The material requirement of the step that starts the interval; the table of the recorded item counts.</summary>
    public required string Requirement { get; init; }

    /// <summary>The state that it must have cured to.</summary>
    public required CureState State { get; init; }

    /// <summary>The fixed minimum that holds where no readings, or no table, tell of it. Written as an ISO 8601 duration.</summary>
    public required TimeSpan Fallback { get; init; }

    /// <summary>The longest time between two readings over which they tell the temperature; at most a day. Written as an ISO 8601 duration.</summary>
    public required TimeSpan ReadingGapMax { get; init; }

    /// <summary>The code of the station or oven whose readings count; null: the station where the step that starts the interval was recorded.</summary>
    public string? Place { get; init; }
}
