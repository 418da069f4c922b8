using Traceability.Domain.Facts;
using Traceability.Domain.Primitives;

namespace Traceability.Domain.Lots;

/// <summary>One lot as its own facts tell. What it has from the lots that it was made of, <see cref="LotJudge"/> tells.</summary>
/// <param name="Key">The lot's identity.</param>
/// <param name="Effective">The facts that count, ordered by when they happened.</param>
public sealed record Lot(LotKey Key, ImmutableArray<EffectiveFact> Effective)
{
    /// <summary>Whether material of other lots went into it.</summary>
    public bool HasSources { get; } = HasInflow(Effective);

    /// <summary>The receipt; null for a lot that was not received, or was made of others.</summary>
    public LotReceived? Received => First(static f => f is LotReceived)?.Fact as LotReceived;

    /// <summary>
    /// Its receipt, or that it was split off or mixed: what there is once only; null while none is known. What is merged into a lot may be told
    /// before where the lot came from.
    /// </summary>
    public EffectiveFact? Arrival => First(static f => f is LotReceived or LotSplit or LotMixed);

    /// <summary>What brought the lot into being: its receipt, or that it was made of others; null while it is not known.</summary>
    public EffectiveFact? Origin => First(static f => f is LotReceived or ILotInflow);

    /// <summary>Folds a lot's facts.</summary>
    public static Lot Of(LotKey key, ImmutableArray<RecordedFact> facts) => new(key, EffectiveFacts.Of(facts));

    /// <summary>The end of shelf life that counted at a time, by the lot's own facts; null if none is known.</summary>
    /// <remarks>
    /// An expiry that was set anew holds for the lot's whole life: it says what should have been known. A re-certification holds
    /// from when it happened on: a use before it is judged by what was valid then. Of both, what was said last counts.
    /// </remarks>
    public DateTimeOffset? ExpiryAt(DateTimeOffset at)
    {
        for (var i = Effective.Length - 1; i >= 0; i--)
        {
            switch (Effective[i])
            {
                case { IsVoided: false, Fact: LotExpirySet set }:
                    return set.ExpiresAt;
                case { IsVoided: false, Fact: LotRecertified recertified } fact when fact.At <= at:
                    return recertified.ExpiresAt;
            }
        }

        return Received?.ExpiresAt;
    }

    /// <summary>Whether the lot was released for use at that time, by its own facts.</summary>
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
                LotQuarantined or LotInspected { Accepted: false } => false,
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

    /// <summary>The lots that material came from, each once, in order of time.</summary>
    public IEnumerable<LotKey> Sources() =>
        HasSources ? Standing().Select(f => f.Fact).OfType<ILotInflow>().SelectMany(SourcesOf).Select(s => s.Lot).Distinct() : [];

    /// <summary>What an inflow names; whatever is stored, nothing that is null.</summary>
    internal static IEnumerable<LotSource> SourcesOf(ILotInflow inflow) =>
        inflow.Sources.IsDefaultOrEmpty ? [] : inflow.Sources.Where(s => s is not null);

    private EffectiveFact? First(Func<Fact, bool> counts)
    {
        foreach (var fact in Effective)
        {
            if (!fact.IsVoided && counts(fact.Fact))
            {
                return fact;
            }
        }

        return null;
    }

    private static bool HasInflow(ImmutableArray<EffectiveFact> facts)
    {
        foreach (var fact in facts)
        {
            if (fact is { IsVoided: false, Fact: ILotInflow })
            {
                return true;
            }
        }

        return false;
    }
}
