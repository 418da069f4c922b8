using Traceability.Domain.Facts;
using Traceability.Domain.Primitives;

namespace Traceability.Domain.Lots;

/// <summary>Material went from one lot into another.</summary>
/// <param name="From">The lot that it was taken out of.</param>
/// <param name="Into">The lot that it went into.</param>
/// <param name="At">When.</param>
/// <param name="Quantity">How much; null: nobody said.</param>
/// <param name="Container">The container that it was taken out of; null: any.</param>
/// <param name="IsSplit">A new lot was made of it; else it was put to what was there.</param>
/// <param name="Record">The fact.</param>
public sealed record LotLink(
    LotKey From, LotKey Into, DateTimeOffset At, EnteredQuantity? Quantity, ContainerNumber? Container, bool IsSplit, Guid Record)
{
    /// <summary>It became a part of a mix.</summary>
    public bool IsMix { get; init; }
}

/// <summary>Which lots a lot was made of, and which were made of it, at any depth; where lots run in a circle, each link once.</summary>
/// <param name="Sources">The links that lead to the lot, by time.</param>
/// <param name="Derived">The links that lead from it, by time.</param>
public sealed record LotLineage(ImmutableArray<LotLink> Sources, ImmutableArray<LotLink> Derived)
{
    /// <summary>The lineage of a lot among lots whose facts are known.</summary>
    public static LotLineage Of(LotKey lot, IEnumerable<Lot> lots)
    {
        ArgumentNullException.ThrowIfNull(lots);
        LotLink[] links = [.. lots.SelectMany(LinksOf)];
        return new(
            Reach(lot, links.ToLookup(l => l.Into), l => l.From),
            Reach(lot, links.ToLookup(l => l.From), l => l.Into));
    }

    /// <summary>The links that lead to a lot directly, by time.</summary>
    public static IEnumerable<LotLink> LinksOf(Lot lot)
    {
        ArgumentNullException.ThrowIfNull(lot);
        return lot.Standing().Where(f => f.Fact is ILotInflow).SelectMany(f => Lot.SourcesOf((ILotInflow)f.Fact)
            .Select(s => new LotLink(s.Lot, lot.Key, f.At, s.Quantity, s.Container, f.Fact is LotSplit, f.Id) { IsMix = f.Fact is LotMixed }));
    }

    private static ImmutableArray<LotLink> Reach(LotKey lot, ILookup<LotKey, LotLink> links, Func<LotLink, LotKey> next)
    {
        var seen = new HashSet<LotKey> { lot };
        var open = new Queue<LotKey>([lot]);
        var found = new List<LotLink>();
        while (open.TryDequeue(out var here))
        {
            foreach (var link in links[here])
            {
                found.Add(link);
                if (seen.Add(next(link)))
                {
                    open.Enqueue(next(link));
                }
            }
        }

        found.Sort(static (a, b) =>
        {
            var order = EffectiveFacts.Compare(a.At, a.Record, b.At, b.Record);
            return order != 0 ? order : string.CompareOrdinal(a.From.ToString(), b.From.ToString());
        });
        return [.. found];
    }
}
