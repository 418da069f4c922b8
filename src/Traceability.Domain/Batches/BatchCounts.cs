using Traceability.Domain.Facts;
using Traceability.Domain.Judging;
using Traceability.Domain.Primitives;
using Traceability.Domain.ProductUnits;

namespace Traceability.Domain.Batches;

/// <summary>A unit that was taken out of a batch by record.</summary>
/// <param name="Unit">The unit.</param>
/// <param name="Batch">The batch.</param>
/// <param name="Earliest">When, at the earliest: less the uncertainty of the clock.</param>
/// <param name="Latest">When, at the latest.</param>
public sealed record UnitTaken(UnitKey Unit, BatchKey Batch, DateTimeOffset Earliest, DateTimeOffset Latest)
{
    /// <summary>The same of a unit's facts; null where no opening that counts names a batch.</summary>
    public static UnitTaken? Of(ProductUnit unit)
    {
        ArgumentNullException.ThrowIfNull(unit);
        return Of(unit.Key, unit.Effective.FirstOrDefault(f => f is { IsVoided: false, Fact: UnitOpened }));
    }

    /// <summary>The same of the opening that counts.</summary>
    public static UnitTaken? Of(UnitKey unit, EffectiveFact? opening)
    {
        if (opening is not { Fact: UnitOpened opened } || BatchRecords.Of(opened) is not { } batch)
        {
            return null;
        }

        var uncertainty = UnitHistory.UncertaintyOf(opening);
        return new(unit, batch, Instant.Shift(opening.At, -uncertainty), Instant.Shift(opening.At, uncertainty));
    }
}

/// <summary>How many parts of a batch there were for units, by what is recorded of it and of the batches around it.</summary>
/// <remarks>
/// Parts that were split off or thrown away count first, whenever that was: when parts were thrown away isn't recorded, only that
/// nothing was left. Of parts that were split off more than there were, the split that may have been the later one has the fewer.
/// Common practice, without a source.
/// </remarks>
public static class BatchCounts
{
    private const int DepthMax = 50;

    /// <summary>How many parts there were for units; null where it isn't known of how many parts the batch was made.</summary>
    public static int? ForUnits(Batch batch, IReferences references)
    {
        ArgumentNullException.ThrowIfNull(batch);
        ArgumentNullException.ThrowIfNull(references);
        return Sure(batch, references, 0) is { } count ? Math.Max(0, Clamped((long)count - batch.Scrapped - SplitOff(batch, references).Sum(s => (long)s.Count))) : null;
    }

    /// <summary>The batches that were split off a batch, each with its split and how many parts, by when they were.</summary>
    public static IEnumerable<(Batch Batch, EffectiveFact Split, int Count)> SplitOff(Batch batch, IReferences references)
    {
        ArgumentNullException.ThrowIfNull(batch);
        ArgumentNullException.ThrowIfNull(references);
        return references.SplitFrom(batch.Key)
            .Select(references.FindBatch)
            .Where(b => b?.Split is { } split && split.From == batch.Key)
            .Select(b => (Batch: b!, Split: b!.Origin!, b.Split!.Count))
            .OrderBy(s => s.Split.At)
            .ThenBy(s => s.Split.Id);
    }

    // How many parts it surely was made of, units left aside.
    private static int? Sure(Batch batch, IReferences references, int depth)
    {
        if (batch is not { Split: { } split, Origin: { } origin } || depth > DepthMax || references.FindBatch(split.From) is not { } source || Sure(source, references, depth + 1) is not { } count)
        {
            return batch.Count;
        }

        var before = SplitOff(source, references)
            .Where(s => s.Batch.Key != batch.Key && s.Split.At <= Instant.Shift(origin.At, Instant.Sum(UnitHistory.UncertaintyOf(origin), UnitHistory.UncertaintyOf(s.Split))))
            .Sum(s => (long)s.Count);
        return Math.Min(split.Count, Clamped(count - source.Scrapped - before));
    }

    private static int Clamped(long count) => (int)Math.Clamp(count, 0, int.MaxValue);
}
