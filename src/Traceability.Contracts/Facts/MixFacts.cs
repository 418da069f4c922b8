namespace Traceability.Contracts.Facts;

/// <summary>What an item is mixed of.</summary>
public sealed record Mixture
{
    /// <summary>The parts; at least two, each item once.</summary>
    public required IReadOnlyList<MixturePart> Parts { get; init; }

    /// <summary>How far the ratio of each part to the first may be off, as a share of it, from 0 to 1: 0.05 is 5 %.</summary>
    public required decimal Tolerance { get; init; }
}

/// <summary>One part of a mix.</summary>
public sealed record MixturePart
{
    /// <summary>The item's number.</summary>
    public required string Item { get; init; }

    /// <summary>How much of it for the amounts of the others, by mass or by volume; above 0.</summary>
    public required QuantityValue Amount { get; init; }
}

/// <summary>How long something may be used, by temperature.</summary>
public sealed record LifeTable
{
    /// <summary>The rows; at least one. A hotter row must not allow a longer time.</summary>
    public required IReadOnlyList<LifeRow> Rows { get; init; }

    /// <summary>The longest time between two readings over which they tell the temperature; at most a day. Written as an ISO 8601 duration.</summary>
    public required TimeSpan ReadingGapMax { get; init; }

    /// <summary>The station or oven whose readings count; null: the station where it was mixed or opened.</summary>
    public string? Place { get; init; }
}

/// <summary>One row of such a table.</summary>
public sealed record LifeRow
{
    /// <summary>The temperature, in any unit of temperature.</summary>
    public required QuantityValue Temperature { get; init; }

    /// <summary>How long it may be used at that temperature; at most 31 days. Written as an ISO 8601 duration.</summary>
    public required TimeSpan Time { get; init; }
}
