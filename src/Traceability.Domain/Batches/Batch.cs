using Traceability.Domain.Facts;
using Traceability.Domain.Primitives;

namespace Traceability.Domain.Batches;

/// <summary>One batch as its facts tell.</summary>
/// <param name="Key">The batch's identity.</param>
/// <param name="Effective">The facts that count, ordered by when they happened; voided ones included and marked.</param>
/// <param name="Facts">All facts, in order of arrival.</param>
public sealed record Batch(BatchKey Key, ImmutableArray<EffectiveFact> Effective, ImmutableArray<RecordedFact> Facts)
{
    /// <summary>The forming that counts; null while it is void or can't be read.</summary>
    public EffectiveFact? Forming => Effective.FirstOrDefault(f => f is { IsVoided: false, Fact: BatchFormed });

    /// <summary>What it was formed of.</summary>
    public BatchFormed? Formed => Forming?.Fact as BatchFormed;

    /// <summary>What brought it into being: its forming, or that it was split off another one; null while it is void or can't be read.</summary>
    public EffectiveFact? Origin => Effective.FirstOrDefault(f => f is { IsVoided: false, Fact: BatchFormed or BatchSplit });

    /// <summary>What it was split off; null: it was formed.</summary>
    public BatchSplit? Split => Origin?.Fact as BatchSplit;

    /// <summary>How many parts it was made of; null while that isn't known.</summary>
    public int? Count => Origin?.Fact switch
    {
        BatchFormed formed => formed.Count,
        BatchSplit split => split.Count,
        _ => null,
    };

    /// <summary>The last record that nothing of it is left; null while something is.</summary>
    public EffectiveFact? Ending => Effective.LastOrDefault(f => f is { IsVoided: false, Fact: BatchEnded });

    /// <summary>How many parts were thrown away by record.</summary>
    public int Scrapped => (Ending?.Fact as BatchEnded)?.Scrapped ?? 0;

    /// <summary>Folds a batch's facts.</summary>
    public static Batch Of(BatchKey key, ImmutableArray<RecordedFact> facts) => new(key, EffectiveFacts.Of(facts), facts);
}
