using Traceability.Domain.Facts;
using Traceability.Domain.Primitives;
using Traceability.Domain.ProductUnits;

namespace Traceability.Domain.Batches;

/// <summary>A fact about one batch: parts of one item that have no serials yet and go through steps together. It belongs to the batch's stream.</summary>
public interface IBatchFact
{
    /// <summary>The batch.</summary>
    BatchKey Batch { get; }
}

/// <summary>Parts were put together to go through steps together.</summary>
/// <param name="Batch">The batch.</param>
/// <param name="Count">How many parts.</param>
/// <param name="Lot">The received lot that they came in; null: nobody said.</param>
public sealed record BatchFormed(BatchKey Batch, int Count, LotNumber? Lot) : Fact, IBatchFact;

/// <summary>Some parts of a batch were taken out of it to go on as a batch of their own. What was done to the first until then was done to both.</summary>
/// <param name="Batch">The new batch; the fact belongs to it.</param>
/// <param name="Source">The number of the batch that they were taken out of, of the same item.</param>
/// <param name="Count">How many parts.</param>
public sealed record BatchSplit(BatchKey Batch, BatchNumber Source, int Count) : Fact, IBatchFact
{
    /// <summary>The batch that they were taken out of.</summary>
    [System.Text.Json.Serialization.JsonIgnore]
    public BatchKey From => new(Batch.Item, Source);
}

/// <summary>Work on a step began on all parts of the batch.</summary>
/// <param name="Batch">The batch.</param>
/// <param name="Step">The step, of the routing of the item.</param>
public sealed record BatchStepStarted(BatchKey Batch, StepCode Step) : Fact, IBatchFact;

/// <summary>A step was completed on all parts of the batch. The time it occurred is the completion.</summary>
/// <param name="Batch">The batch.</param>
/// <param name="Step">The step, of the routing of the item.</param>
/// <param name="StartedAt">When it began, by the terminal's clock; null: the last reported start of the step counts.</param>
/// <param name="IsRework">Whether this attempt redid work.</param>
/// <param name="Marks">Named moments within the step, such as oven-in.</param>
/// <param name="Materials">Lots used; a quantity is that of one part.</param>
/// <param name="Tools">Tools used, such as the oven.</param>
/// <param name="Measurements">Values measured that hold for every part.</param>
/// <param name="Checks">Pass/fail checks that hold for every part.</param>
/// <param name="Note">Free text.</param>
public sealed record BatchStepCompleted(
    BatchKey Batch,
    StepCode Step,
    DateTimeOffset? StartedAt,
    bool IsRework,
    ImmutableArray<StepMark> Marks,
    ImmutableArray<MaterialUse> Materials,
    ImmutableArray<ToolUse> Tools,
    ImmutableArray<Measurement> Measurements,
    ImmutableArray<CheckResult> Checks,
    string? Note) : Fact, IBatchFact;

/// <summary>Nothing of the batch is left: its parts were serialised or thrown away.</summary>
/// <param name="Batch">The batch.</param>
/// <param name="Scrapped">How many parts were thrown away; null: nobody said.</param>
public sealed record BatchEnded(BatchKey Batch, int? Scrapped) : Fact, IBatchFact;
