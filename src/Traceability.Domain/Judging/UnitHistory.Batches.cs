using Traceability.Domain.Batches;
using Traceability.Domain.Facts;
using Traceability.Domain.ProductUnits;

namespace Traceability.Domain.Judging;

/// <content>The batch that the unit was taken out of.</content>
internal sealed partial class UnitHistory
{
    // The opening that tells best what the unit is.
    private EffectiveFact? _named;

    /// <summary>The batch that it was taken out of; null: none, or nothing is known of it.</summary>
    public Batch? Batch { get; private set; }

    /// <summary>The first of the batch's facts that can't be read; null for none.</summary>
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
        if (_named is not { Fact: UnitOpened { Batch: not null } named } opening || BatchRecords.Of(named) is not { } key)
        {
            return;
        }

        Batch = References.FindBatch(key);
        UnreadableOfBatch = Batch?.Effective.FirstOrDefault(f => f.Fact is UnreadableFact);
        if (Batch is null)
        {
            BeganAt = DateTimeOffset.MinValue;
            return;
        }

        Facts = BatchRecords.Merge(Facts, Unit.Key, Batch, opening);
        var formed = Batch.Forming is { } forming ? Instant.Shift(forming.At, -UncertaintyOf(forming)).ToUniversalTime() : DateTimeOffset.MinValue;
        BeganAt = formed < BeganAt ? formed : BeganAt;
    }
}
