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

    /// <summary>Folds a batch's facts.</summary>
    public static Batch Of(BatchKey key, ImmutableArray<RecordedFact> facts) => new(key, EffectiveFacts.Of(facts), facts);
}
