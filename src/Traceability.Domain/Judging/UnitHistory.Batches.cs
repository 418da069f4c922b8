using Traceability.Domain.Batches;
using Traceability.Domain.Facts;
using Traceability.Domain.ProductUnits;

namespace Traceability.Domain.Judging;

/// <content>The batch that the unit was taken out of.</content>
internal sealed partial class UnitHistory
{
    /// <summary>The opening that tells best what the unit is: the one that counts, else a void one; null where there is none.</summary>
    public EffectiveFact? BestOpening { get; private set; }

    /// <summary>The batch that it was taken out of; null: none, or nothing is known of it.</summary>
    public Batch? Batch { get; private set; }

    /// <summary>The forming of the batch, or of the one that it was split off in the end; null where it isn't known.</summary>
    public EffectiveFact? Forming { get; private set; }

    /// <summary>The first of the facts of its batches that can't be read; null for none.</summary>
    public EffectiveFact? UnreadableOfBatch { get; private set; }

    /// <summary>
    /// The earliest time that anything can have been done to it: when it was opened, or the batch was formed that it was taken out of;
    /// the least possible time where no record that counts tells when it was opened.
    /// </summary>
    public DateTimeOffset? BeganAt { get; private set; }

    // What was done to the parts before they had serials was done to this one.
    private void JoinBatch()
    {
        BeganAt = OpenedAt is not { } opened ? null : Opening is { } counting ? Instant.Shift(opened, -UncertaintyOf(counting)) : DateTimeOffset.MinValue;
        if (BestOpening is not { Fact: UnitOpened { Batch: not null } named } opening || BatchRecords.Of(named) is not { } key)
        {
            return;
        }

        Batch = References.FindBatch(key);
        if (Batch is null)
        {
            BeganAt = DateTimeOffset.MinValue;
            return;
        }

        var chain = BatchChain.Of(Batch, References.FindBatch);
        UnreadableOfBatch = chain.SelectMany(l => l.Batch.Effective).FirstOrDefault(f => f.Fact is UnreadableFact);
        Forming = chain[^1].Batch is { Origin.Fact: BatchFormed } first ? first.Origin : null;
        Facts = BatchRecords.Merge(Facts, Unit.Key, chain, opening);
        var formed = Forming is { } forming ? Instant.Shift(forming.At, -UncertaintyOf(forming)).ToUniversalTime() : DateTimeOffset.MinValue;
        BeganAt = formed < BeganAt ? formed : BeganAt;
    }
}
