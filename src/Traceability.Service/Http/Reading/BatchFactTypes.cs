using System.Text.Json;
using Traceability.Domain.Batches;
using Traceability.Domain.Primitives;

namespace Traceability.Service.Http.Reading;

/// <summary>Reads the facts about batches of parts that have no serials yet.</summary>
internal static class BatchFactTypes
{
    // As many as fit into an oven, and more.
    private const int CountMax = 10_000;

    private static readonly Shape BatchShape = new("item", "batch");

    public static ImmutableArray<FactType> All { get; } =
    [
        FactType.Of("batch-formed", Formed, "batch", "count", "lot"),
        FactType.Of("batch-split", Split, "batch", "source", "count"),
        FactType.Of("batch-step-started", (o, c) => new BatchStepStarted(BatchOf(o), o.Code<StepCode>("step")) { OccurredAt = c.At, Station = c.Station, Person = c.Person }, "batch", "step"),
        FactType.Of("batch-step-completed", Completed, "batch", "step", "startedAt", "isRework", "marks", "materials", "tools", "measurements", "checks", "note"),
        FactType.Of("batch-ended", Ended, "batch", "scrapped"),
    ];

    private static BatchKey BatchOf(ObjectReading o) => o.Value("batch", Batch);

    private static BatchKey Batch(JsonReading reading, JsonElement element)
    {
        using var o = reading.Open(element, BatchShape);
        return new(o.Code<ItemNumber>("item"), o.Code<BatchNumber>("batch"));
    }

    private static BatchFormed Formed(ObjectReading o, CommonMembers c)
    {
        if (!o.Has("count"))
        {
            o.Fail("count", "How many parts they are is missing.");
        }

        return new(BatchOf(o), o.Count("count", absent: 1, CountMax), o.CodeOrNull<LotNumber>("lot")) { OccurredAt = c.At, Station = c.Station, Person = c.Person };
    }

    private static BatchSplit Split(ObjectReading o, CommonMembers c)
    {
        if (!o.Has("count"))
        {
            o.Fail("count", "How many parts they are is missing.");
        }

        var split = new BatchSplit(BatchOf(o), o.Code<BatchNumber>("source"), o.Count("count", absent: 1, CountMax)) { OccurredAt = c.At, Station = c.Station, Person = c.Person };
        if (split.Source == split.Batch.Batch && split.Source != default)
        {
            o.Fail("source", "A batch can't be split off itself. Give the new one a number of its own.");
        }

        return split;
    }

    private static BatchStepCompleted Completed(ObjectReading o, CommonMembers c)
    {
        var fact = new BatchStepCompleted(
            BatchOf(o),
            o.Code<StepCode>("step"),
            o.TimeOrNull("startedAt"),
            o.Flag("isRework", absent: false),
            o.List("marks", UnitFactTypes.Mark),
            o.List("materials", UnitFactTypes.Material),
            o.List("tools", UnitFactTypes.Tool),
            o.List("measurements", UnitFactTypes.Measured),
            o.List("checks", UnitFactTypes.Checked),
            o.TextOrNull("note"))
        {
            OccurredAt = c.At, Station = c.Station, Person = c.Person,
        };
        UnitFactTypes.CheckRecord(o, (Domain.ProductUnits.StepCompleted)Domain.Judging.BatchRecords.AsOwn(default, fact)!);
        return fact;
    }

    private static BatchEnded Ended(ObjectReading o, CommonMembers c) =>
        new(BatchOf(o), o.Has("scrapped") ? o.Count("scrapped", absent: 1, CountMax) : null) { OccurredAt = c.At, Station = c.Station, Person = c.Person };
}
