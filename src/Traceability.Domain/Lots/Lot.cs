using Traceability.Domain.Facts;
using Traceability.Domain.Primitives;

namespace Traceability.Domain.Lots;

/// <summary>One lot as its facts tell.</summary>
/// <param name="Key">The lot's identity.</param>
/// <param name="Effective">The facts that count, ordered by when they happened.</param>
public sealed record Lot(LotKey Key, ImmutableArray<EffectiveFact> Effective)
{
    /// <summary>The receipt; null while the lot is not known.</summary>
    public LotReceived? Received
    {
        get
        {
            foreach (var fact in Effective)
            {
                if (fact is { IsVoided: false, Fact: LotReceived received })
                {
                    return received;
                }
            }

            return null;
        }
    }

    /// <summary>The end of shelf life that counts: the one set last; null if none is known.</summary>
    /// <remarks>An expiry that was set anew holds for the lot's whole life: it says what should have been known.</remarks>
    public DateTimeOffset? ExpiresAt
    {
        get
        {
            for (var i = Effective.Length - 1; i >= 0; i--)
            {
                if (Effective[i] is { IsVoided: false, Fact: LotExpirySet set })
                {
                    return set.ExpiresAt;
                }
            }

            return Received?.ExpiresAt;
        }
    }

    /// <summary>Folds a lot's facts.</summary>
    public static Lot Of(LotKey key, ImmutableArray<RecordedFact> facts) => new(key, EffectiveFacts.Of(facts));

    /// <summary>Whether the lot was released for use at that time.</summary>
    public bool IsReleasedAt(DateTimeOffset at)
    {
        var released = false;
        foreach (var fact in Effective)
        {
            if (fact.At > at)
            {
                break;
            }

            released = fact.IsVoided ? released : fact.Fact switch
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
    public EffectiveFact? Opening(ContainerNumber container)
    {
        foreach (var fact in Effective)
        {
            if (fact is { IsVoided: false, Fact: ContainerOpened opened } && opened.Container == container)
            {
                return fact;
            }
        }

        return null;
    }

    /// <summary>The facts that are not voided.</summary>
    public IEnumerable<EffectiveFact> Standing() => Effective.Where(f => !f.IsVoided);
}
