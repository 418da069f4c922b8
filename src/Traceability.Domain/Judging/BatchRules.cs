using Traceability.Domain.Batches;

namespace Traceability.Domain.Judging;

/// <summary>Units that were taken out of a batch by record when nothing of it can have been left.</summary>
/// <remarks>
/// Which of the records is wrong can't be told: the count, the batch's number on a unit, or that parts were thrown away. So nothing
/// is taken back, the unit keeps what was recorded of the batch, and each unit has the finding that may have been taken beyond the
/// count, in the order in which they were; where the clocks leave the order open, all that it may be.
/// </remarks>
internal static class BatchRules
{
    public static void Judge(UnitHistory history, FindingSink sink)
    {
        if (history is not { Batch: { } batch, Opening: { } opening } || UnitTaken.Of(history.Unit.Key, opening) is not { } taken)
        {
            return;
        }

        if (batch.Ending is { } ending && !BatchRecords.MayBeBefore(opening, ending))
        {
            Add($"The unit was taken out of batch {batch.Key} at {Say.Time(opening.At)}, and nothing of it was left from {Say.Time(ending.At)} on.", ("ended", Say.Time(ending.At)));
            return;
        }

        if (BatchCounts.ForUnits(batch, history.References) is not { } parts)
        {
            return;
        }

        var before = history.References.TakenFrom(batch.Key).Count(t => t.Unit != taken.Unit && t.Earliest <= taken.Latest);
        if (before >= parts)
        {
            Add(
                $"The unit was taken out of batch {batch.Key} at {Say.Time(opening.At)}; by then {Say.Number(before)} other units may have been, and of {Say.Number(batch.Count ?? 0)} parts {Say.Number(parts)} were there for units.",
                ("count", Say.Number(batch.Count ?? 0)),
                ("for-units", Say.Number(parts)),
                ("taken-before-at-most", Say.Number(before)));
        }

        void Add(string message, params (string Name, string Text)[] evidence) => sink.Add(
            opening, null, FindingKinds.BatchOverdrawn, batch.Key.Batch.ToString(), null, message, [("record", opening.Id.ToString()), ("batch", batch.Key.ToString()), ("taken", Say.Time(opening.At)), .. evidence]);
    }
}
