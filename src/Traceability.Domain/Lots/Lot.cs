using Traceability.Domain.Facts;
using Traceability.Domain.Primitives;

namespace Traceability.Domain.Lots;

/// <summary>One lot as its facts tell.</summary>
/// <param name="Key">The lot's identity.</param>
/// <param name="Effective">The facts that count, ordered by when they happened.</param>
public sealed record Lot(LotKey Key, ImmutableArray<EffectiveFact> Effective)
{
    /// <summary>The receipt; null while the lot is not known.</summary>
    public LotReceived? Received => Standing().Select(f => f.Fact).OfType<LotReceived>().FirstOrDefault();

    /// <summary>The end of shelf life that counts: the one set last; null if none is known.</summary>
    /// <remarks>An expiry that was set anew holds for the lot's whole life: it says what should have been known.</remarks>
    public DateTimeOffset? ExpiresAt =>
        Standing().Select(f => f.Fact).OfType<LotExpirySet>().LastOrDefault()?.ExpiresAt ?? Received?.ExpiresAt;

    /// <summary>Folds a lot's facts.</summary>
    public static Lot Of(LotKey key, ImmutableArray<RecordedFact> facts) => new(key, EffectiveFacts.Of(facts));

    /// <summary>Whether the lot was released for use at that time.</summary>
    public bool IsReleasedAt(DateTimeOffset at)
    {
        var released = false;
        foreach (var fact in Standing().TakeWhile(f => f.At <= at))
        {
            released = fact.Fact switch
            {
                LotReceived r => r.IsReleased,
                LotReleased => true,
                LotQuarantined => false,
                _ => released,
            };
        }

        return released;
    }

    /// <summary>When the container was opened; null if that isn't recorded.</summary>
    public EffectiveFact? Opening(ContainerNumber container) =>
        Standing().FirstOrDefault(f => f.Fact is ContainerOpened o && o.Container == container);

    /// <summary>The facts that are not voided.</summary>
    public IEnumerable<EffectiveFact> Standing() => Effective.Where(f => !f.IsVoided);
}
