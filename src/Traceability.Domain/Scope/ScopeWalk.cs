using System.Runtime.InteropServices;

namespace Traceability.Domain.Scope;

/// <summary>Finds the units that a suspect factor reaches, through genealogy at any depth and through time.</summary>
/// <remarks>
/// <para>
/// Proven means: whatever is filled in where records are missing, the unit carries or carried the suspect. Possible means: in some
/// ways to fill it in. A missing lot, container or serial may always also be something that was never registered, so filling in
/// proves nothing. A use between two times proves exposure from the later one on and makes it possible from the earlier one on.
/// </para>
/// <para>
/// A lot that was split off the suspect's, or merged with it, carries its material on: see <see cref="LotCarrier"/>. Wholly made of
/// it, it counts as the suspect; mixed with other material, each use of it is possible.
/// </para>
/// <para>
/// A unit that carries the suspect in [a, b) and is inside another in [f, r) passes it on in [max(a, f), min(b, r)), if that isn't
/// empty. The walk goes level by level, so that every look-up is for many units at once; it ends when no level adds anything, also
/// where records run in a circle.
/// </para>
/// </remarks>
public sealed class ScopeWalk
{
    private readonly Genealogy _genealogy;
    private readonly Dictionary<string, Reach> _reached = new(StringComparer.Ordinal);
    private List<Reach> _frontier = [];

    private ScopeWalk(Genealogy genealogy) => _genealogy = genealogy;

    /// <summary>Walks from a suspect lot or container to everything that it reaches.</summary>
    /// <param name="factor">The suspect.</param>
    /// <param name="presence">When and where it could have been used.</param>
    /// <param name="source">Where the rows are.</param>
    /// <param name="cancellation">Stops the walk.</param>
    public static ValueTask<LotScopeResult> RunAsync(
        SuspectFactor factor, LotPresence presence, IScopeSource source, CancellationToken cancellation) =>
        RunAsync(factor, presence, [], source, cancellation);

    /// <summary>Walks from a suspect lot or container, and from the lots that carry material of it, to everything that it reaches.</summary>
    /// <param name="factor">The suspect.</param>
    /// <param name="presence">When and where it could have been used.</param>
    /// <param name="carriers">Lots that were made of it.</param>
    /// <param name="source">Where the rows are.</param>
    /// <param name="cancellation">Stops the walk.</param>
    public static ValueTask<LotScopeResult> RunAsync(
        SuspectFactor factor, LotPresence presence, ImmutableArray<LotCarrier> carriers, IScopeSource source, CancellationToken cancellation) =>
        RunAsync(factor, presence, carriers, new Genealogy(source), cancellation);

    internal static async ValueTask<LotScopeResult> RunAsync(
        SuspectFactor factor, LotPresence presence, ImmutableArray<LotCarrier> carriers, Genealogy genealogy, CancellationToken cancellation)
    {
        var start = new LotStart(factor, presence, carriers, genealogy.Source);
        var members = await RunAsync(await start.FindAsync(cancellation), genealogy, cancellation);
        return new(factor, presence.With(carriers.Select(c => c.Presence)), start.IsLotNamed, start.IsNamed, members, genealogy);
    }

    /// <summary>Walks from units that are reached directly to all that they are or could be inside of; ordered by name (ordinal).</summary>
    internal static async ValueTask<ImmutableArray<ScopeMember>> RunAsync(
        IReadOnlyList<Reach> seeds, Genealogy genealogy, CancellationToken cancellation)
    {
        var walk = new ScopeWalk(genealogy);
        walk._reached.EnsureCapacity(seeds.Count);
        foreach (var seed in seeds)
        {
            walk.Add(seed);
        }

        while (walk._frontier.Count > 0)
        {
            var level = walk._frontier;
            walk._frontier = [];
            var byItem = level.GroupBy(r => ItemOf(r.Unit), StringComparer.Ordinal).ToList();
            await genealogy.LoadAsync(level.Select(r => r.Unit), byItem.Select(g => g.Key), cancellation);
            foreach (var reach in level)
            {
                walk.PassOn(reach);
            }

            foreach (var group in byItem)
            {
                if (genealogy.SerialGapsOf(group.Key) is { Count: > 0 } gaps)
                {
                    await walk.FillAsync(gaps, [.. group], cancellation);
                }
            }
        }

        ScopeMember[] members = [.. walk._reached.Values.Select(ScopeMember.Of)];
        Array.Sort(members, static (a, b) => string.CompareOrdinal(a.Unit, b.Unit));
        return ImmutableCollectionsMarshal.AsImmutableArray(members);
    }

    private void PassOn(Reach reach)
    {
        foreach (var installation in _genealogy.InstallationsOf(reach.Unit))
        {
            var to = Earlier(reach.To, installation.To ?? DateTimeOffset.MaxValue);
            var from = Later(reach.From, installation.From);
            var sureFrom = Later(reach.SureFrom, installation.From);
            if (from < to)
            {
                Add(new Reach(installation.Parent, HopKind.Installed, installation.RowId, reach)
                {
                    From = from,
                    SureFrom = sureFrom,
                    To = to,
                    IsProven = reach.IsProven && sureFrom < to,
                });
            }
        }
    }

    private async ValueTask FillAsync(IReadOnlyList<GapRow> gaps, List<Reach> candidates, CancellationToken cancellation)
    {
        await _genealogy.LoadUnitsAsync(candidates.Select(r => r.Unit), cancellation);
        var slots = new SerialSlots(
            [.. candidates.SelectMany(r => SerialSlot.Of(r, _genealogy.UnitOf(r.Unit), _genealogy.InstallationsOf(r.Unit)))]);
        foreach (var gap in gaps)
        {
            foreach (var slot in slots.Fillers(gap.From, gap.To))
            {
                Add(new Reach(gap.Unit, HopKind.SerialMissing, gap.RowId, slot.Reach)
                {
                    From = slot.From,
                    SureFrom = slot.From,
                    To = slot.To,
                    IsProven = false,
                    IsGapRow = true,
                });
            }
        }
    }

    private void Add(Reach reach)
    {
        ref var first = ref CollectionsMarshal.GetValueRefOrAddDefault(_reached, reach.Unit, out _);
        for (var known = first; known is not null; known = known.Next)
        {
            if (known.Covers(reach))
            {
                return;
            }
        }

        reach.Next = first;
        first = reach;
        _frontier.Add(reach);
    }

    internal static int Compare(long rowA, string unitA, long rowB, string unitB)
    {
        var byRow = rowA.CompareTo(rowB);
        return byRow != 0 ? byRow : string.CompareOrdinal(unitA, unitB);
    }

    private static string ItemOf(string unit) => unit[..unit.IndexOf('/', StringComparison.Ordinal)];

    private static DateTimeOffset Earlier(DateTimeOffset a, DateTimeOffset b) => a < b ? a : b;

    internal static DateTimeOffset Later(DateTimeOffset a, DateTimeOffset b) => a > b ? a : b;
}
