using Traceability.Contracts.Facts;

namespace Traceability.Contracts.Batches;

/// <summary>A batch of parts that have no serials yet, with the units that were taken out of it.</summary>
/// <param name="Item">Item number.</param>
/// <param name="Batch">Batch number.</param>
/// <param name="Count">How many parts it was formed of, or were split off for it; null while that is void or can't be read.</param>
/// <param name="Lot">The received lot that they came in.</param>
/// <param name="FormedAt">When it was formed or split off.</param>
/// <param name="EndedAt">When nothing was left of it; null while something is.</param>
/// <param name="Scrapped">How many parts were thrown away by record.</param>
/// <param name="Steps">What was recorded of steps, by when it happened.</param>
/// <param name="Units">The units whose opening names it, by serial.</param>
/// <param name="Findings">What is found on the batch as a whole; what is found on its records stands with its units.</param>
public sealed record BatchView(
    string Item,
    string Batch,
    int? Count,
    string? Lot,
    DateTimeOffset? FormedAt,
    DateTimeOffset? EndedAt,
    int? Scrapped,
    IReadOnlyList<BatchStep> Steps,
    IReadOnlyList<UnitRef> Units,
    IReadOnlyList<BatchFinding> Findings)
{
    /// <summary>What it was split off; null: it was formed.</summary>
    public BatchSplitView? SplitFrom { get; init; }

    /// <summary>What was split off it, by when it was.</summary>
    public IReadOnlyList<BatchSplitView> Splits { get; init; } = [];
}

/// <summary>Parts that went from one batch into another.</summary>
/// <param name="Batch">The number of the other batch.</param>
/// <param name="Record">Id of the fact.</param>
/// <param name="At">When.</param>
/// <param name="Count">How many parts.</param>
public sealed record BatchSplitView(string Batch, Guid Record, DateTimeOffset At, int Count);

/// <summary>A record of a step of a batch.</summary>
/// <param name="Record">Id of the fact.</param>
/// <param name="Kind">started or completed.</param>
/// <param name="Step">The step's code.</param>
/// <param name="At">When, corrected by the measured offset of the clock.</param>
/// <param name="Station">Where.</param>
/// <param name="Person">Who.</param>
/// <param name="IsVoid">The record is void and doesn't count.</param>
public sealed record BatchStep(Guid Record, string Kind, string Step, DateTimeOffset At, string? Station, string? Person, bool IsVoid);

/// <summary>Something that is wrong with a batch as a whole.</summary>
/// <param name="Kind">batch-overdrawn: more units were taken out of it, and parts split off or thrown away, than it was made of. The units that may be beyond have it too.</param>
/// <param name="Message">What was recorded, for a person.</param>
public sealed record BatchFinding(string Kind, string Message);
