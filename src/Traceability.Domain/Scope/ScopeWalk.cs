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
/// empty; where a doubtful clock told f or r, possibly by the widest such time and provenly by the narrowest. The walk goes level by level, so that every look-up is for many units at once; it ends when no level adds anything, also
/// where records run in a circle.
/// </para>
/// </remarks>
public sealed class ScopeWalk
{
    private readonly Genealogy _genealogy;
    private readonly List<KnownUnit> _reached;
    private List<Reach> _frontier;

    private ScopeWalk(Genealogy genealogy, int seeds)
    {
        _genealogy = genealogy;
        _reached = new(seeds);
        _frontier = new(seeds);
    }

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
        return new(factor, presence.With(carriers.Select(c => c.Presence)), start.Direct, start.IsNamed, members, genealogy);
    }

    /// <summary>Walks from units that are reached directly to all that they are or could be inside of; ordered by name (ordinal).</summary>
    internal static async ValueTask<ImmutableArray<ScopeMember>> RunAsync(
        IReadOnlyList<Reach> seeds, Genealogy genealogy, CancellationToken cancellation)
    {
        var walk = new ScopeWalk(genealogy, seeds.Count);
        genealogy.Expect(seeds.Count);
        foreach (var seed in seeds)
        {
            walk.Add(seed, genealogy.Of(seed.Unit));
        }

        while (walk._frontier.Count > 0)
        {
            var level = walk._frontier;
            walk._frontier = new(level.Count);
            await genealogy.LoadAsync(level.ConvertAll(static r => r.Known!), cancellation);
            foreach (var reach in level)
            {
                walk.PassOn(reach);
            }

            foreach (var item in level.Select(static r => r.Known!.Item).Distinct())
            {
                if (item.SerialGaps is { Count: > 0 } gaps)
                {
                    await walk.FillAsync(gaps, level.FindAll(r => r.Known!.Item == item), cancellation);
                }
            }
        }

        return walk.Members();
    }

    private ImmutableArray<ScopeMember> Members()
    {
        KnownUnit[] units = [.. _reached];
        UnitOrder.Sort(units, static u => u.Name);
        var members = new ScopeMember[units.Length];
        for (var i = 0; i < members.Length; i++)
        {
            members[i] = ScopeMember.Of(units[i].First!);
        }

        return ImmutableCollectionsMarshal.AsImmutableArray(members);
    }

    private void PassOn(Reach reach)
    {
        foreach (var installation in reach.Known!.Installed)
        {
            var (from, to) = (Later(reach.From, installation.From), Earlier(reach.To, installation.To));
            var (sureFrom, sureTo) = (Later(reach.SureFrom, installation.SureFrom), Earlier(reach.SureTo, installation.SureTo));
            if (from < to)
            {
                Add(
                    new Reach(installation.Parent.Name, HopKind.Installed, installation.RowId, reach)
                    {
                        From = from,
                        SureFrom = sureFrom,
                        To = to,
                        SureTo = sureTo,
                        IsProven = reach.IsProven && sureFrom < sureTo,
                    },
                    installation.Parent);
            }
        }
    }

    private async ValueTask FillAsync(List<GapRow> gaps, List<Reach> candidates, CancellationToken cancellation)
    {
        // Where a unit can't be in time for any of them whatever its row says, the row isn't looked up.
        var times = new SerialGapTimes(gaps);
        var found = new List<SerialSlot>();
        candidates = candidates.FindAll(r =>
        {
            found.Clear();
            SerialSlot.Add(found, r, null, times);
            return found.Count > 0;
        });
        await _genealogy.LoadStandsAsync(candidates.Select(static r => r.Known!), cancellation);
        found.Clear();
        foreach (var candidate in candidates)
        {
            SerialSlot.Add(found, candidate, candidate.Known!.Stands, times);
        }

        var slots = new SerialSlots(found);
        foreach (var gap in gaps)
        {
            foreach (var slot in slots.Fillers(gap.From, gap.To))
            {
                Add(
                    new Reach(gap.Unit, HopKind.SerialMissing, gap.RowId, slot.Reach)
                    {
                        From = slot.From,
                        SureFrom = slot.From,
                        To = slot.To,
                        IsProven = false,
                        IsGapRow = true,
                    },
                    _genealogy.Of(gap.Unit));
            }
        }
    }

    private void Add(Reach reach, KnownUnit unit)
    {
        if (unit.Walk != this)
        {
            (unit.Walk, unit.First) = (this, null);
            _reached.Add(unit);
        }

        for (var known = unit.First; known is not null; known = known.Next)
        {
            if (known.Covers(reach))
            {
                return;
            }
        }

        reach.Known = unit;
        reach.Next = unit.First;
        unit.First = reach;
        _frontier.Add(reach);
    }

    internal static int Compare(long rowA, string unitA, long rowB, string unitB)
    {
        var byRow = rowA.CompareTo(rowB);
        return byRow != 0 ? byRow : string.CompareOrdinal(unitA, unitB);
    }

    private static DateTimeOffset Earlier(DateTimeOffset a, DateTimeOffset b) => a < b ? a : b;

    internal static DateTimeOffset Later(DateTimeOffset a, DateTimeOffset b) => a > b ? a : b;
}
