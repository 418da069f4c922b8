using Traceability.Domain.Facts;
using Traceability.Domain.Judging;
using Traceability.Domain.Primitives;

namespace Traceability.Domain.Batches;

/// <summary>Decides whether a fact about a batch can be recorded: as with units, whatever is well-formed and about a known batch is.</summary>
public static class BatchDecisions
{
    /// <summary>The refusal, or null: record it.</summary>
    public static Refusal? Check(IBatchFact about, Fact fact, IReferences references)
    {
        ArgumentNullException.ThrowIfNull(about);
        ArgumentNullException.ThrowIfNull(fact);
        ArgumentNullException.ThrowIfNull(references);
        if (fact.Station is { } station && references.FindStation(station) is null)
        {
            return Refusal.At("station-unknown", RefusalKind.Unknown, "/station", $"Station {station} is not known. Define it first, or correct the terminal's setting.");
        }

        var isKnown = references.FindBatch(about.Batch) is not null;
        return fact switch
        {
            BatchFormed or BatchSplit when isKnown => Refusal.At("batch-already-formed", RefusalKind.Contradiction, "/batch", $"Batch {about.Batch} was formed or split off before. Give the next one a number of its own; a mistake is corrected with record-corrected."),
            BatchFormed formed => CheckForming(formed, references),
            BatchSplit split => references.FindBatch(split.From) is null ? Unknown(split.From, "/source") : null,
            _ when !isKnown => Unknown(about.Batch, "/batch"),
            _ => null,
        };
    }

    /// <summary>The refusal of something that names a batch which nobody formed.</summary>
    public static Refusal Unknown(BatchKey batch, string pointer) =>
        Refusal.At("batch-unknown", RefusalKind.Unknown, pointer, $"Batch {batch} is not known. Record batch-formed or batch-split first, or correct the number.");

    private static Refusal? CheckForming(BatchFormed formed, IReferences references)
    {
        if (references.FindItem(formed.Batch.Item) is null)
        {
            return Refusal.At("item-unknown", RefusalKind.Unknown, "/batch/item", $"Item {formed.Batch.Item} is not known. Define it first.");
        }

        return formed.Lot is { } lot && references.FindLot(new(formed.Batch.Item, lot)) is null
            ? Refusal.At("lot-unknown", RefusalKind.Unknown, "/lot", $"Lot {formed.Batch.Item}/{lot} is not known. Define it first, or correct the name.")
            : null;
    }
}
