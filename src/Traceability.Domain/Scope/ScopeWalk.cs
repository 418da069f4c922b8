using System.Runtime.InteropServices;
using Traceability.Domain.Judging;

namespace Traceability.Domain.Scope;

/// <summary>Finds the units that a suspect factor reaches, through genealogy at any depth and through time.</summary>
/// <remarks>
/// <para>
/// Proven means: whatever is filled in where records are missing, the unit carries or carried the suspect. Possible means: in some
/// ways to fill it in. A missing lot, container or serial may always also be something that was never registered, so filling in
/// proves nothing. A use between two times proves exposure from the later one on and makes it possible from the earlier one on.
/// </para>
/// <para>
/// A unit that carries the suspect in [a, b) and is inside another in [f, r) passes it on in [max(a, f), min(b, r)), if that isn't
/// empty. The walk goes level by level, so that every look-up is for many units at once; it ends when no level adds anything, also
/// where records run in a circle.
/// </para>
/// </remarks>
public sealed class ScopeWalk
{
    private readonly SuspectFactor _factor;
    private readonly LotPresence _presence;
    private readonly IScopeSource _source;
    private readonly Dictionary<string, Reach> _reached = new(StringComparer.Ordinal);
    private readonly InstallationBook _book = new();
    private readonly Dictionary<string, List<GapRow>> _serialGaps = new(StringComparer.Ordinal);
    private readonly Dictionary<string, UnitRow> _units = new(StringComparer.Ordinal);
    private List<Reach> _frontier = [];

    private ScopeWalk(SuspectFactor factor, LotPresence presence, IScopeSource source)
    {
        _factor = factor;
        _presence = presence;
        _source = source;
    }

    /// <summary>Walks from the suspect to everything that it reaches.</summary>
    /// <param name="factor">The suspect.</param>
    /// <param name="presence">When and where it could have been used.</param>
    /// <param name="source">Where the rows are.</param>
    /// <param name="cancellation">Stops the walk.</param>
    public static async ValueTask<ScopeResult> RunAsync(
        SuspectFactor factor, LotPresence presence, IScopeSource source, CancellationToken cancellation)
    {
        var walk = new ScopeWalk(factor, presence, source);
        var (isLotNamed, isNamed) = await walk.StartAsync(cancellation);
        while (walk._frontier.Count > 0)
        {
            var level = walk._frontier;
            walk._frontier = [];
            var byItem = level.GroupBy(r => ItemOf(r.Unit), StringComparer.Ordinal).ToList();
            await walk.LoadAsync(level, byItem.Select(g => g.Key), cancellation);
            foreach (var reach in level)
            {
                walk.PassOn(reach);
            }

            foreach (var group in byItem)
            {
                if (walk._serialGaps[group.Key] is { Count: > 0 } gaps)
                {
                    await walk.FillAsync(gaps, [.. group], cancellation);
                }
            }
        }

        ScopeMember[] members = [.. walk._reached.Values.Select(ScopeMember.Of)];
        Array.Sort(members, static (a, b) => string.CompareOrdinal(a.Unit, b.Unit));
        return new(factor, presence, isLotNamed, isNamed, ImmutableCollectionsMarshal.AsImmutableArray(members), walk._book);
    }

    private async ValueTask<(bool IsLotNamed, bool IsNamed)> StartAsync(CancellationToken cancellation)
    {
        var (usageRows, gapRows) = await _source.DirectAsync(_factor.Lot, _presence.From, _presence.To, cancellation);

        // In an order of their own, so that of two equal ways the same one is told every time.
        UsageRow[] usages = [.. usageRows];
        GapRow[] gaps = [.. gapRows];
        Array.Sort(usages, static (a, b) => Compare(a.RowId, a.Unit, b.RowId, b.Unit));
        Array.Sort(gaps, static (a, b) => Compare(a.RowId, a.Unit, b.RowId, b.Unit));
        _reached.EnsureCapacity(usages.Length);
        foreach (var usage in usages)
        {
            AddUsage(usage);
        }

        foreach (var gap in gaps)
        {
            AddGap(gap);
        }

        var container = (_factor as SuspectContainer)?.Container.Value;
        return (
            usages.Length > 0,
            container is null ? usages.Length > 0 : usages.Any(u => string.Equals(u.Container, container, StringComparison.Ordinal)));
    }

    private void AddUsage(UsageRow usage)
    {
        var kind = usage.IsOneOf ? HopKind.OneOfSeveral : HopKind.Recorded;
        if (_factor is SuspectContainer { Container.Value: var suspect })
        {
            if (usage.Container is null)
            {
                if (!_presence.CouldBeUsed(usage.From, usage.To, usage.Station) && !usage.IsOwnLot)
                {
                    return;
                }

                kind = HopKind.ContainerMissing;
            }
            else if (!string.Equals(usage.Container, suspect, StringComparison.Ordinal))
            {
                return;
            }
        }

        Add(new Reach(usage.Unit, kind, usage.RowId, via: null)
        {
            From = usage.IsOwnLot ? DateTimeOffset.MinValue : usage.From,
            SureFrom = usage.IsOwnLot ? DateTimeOffset.MinValue : usage.To,
            To = DateTimeOffset.MaxValue,
            IsProven = kind == HopKind.Recorded,
        });
    }

    private void AddGap(GapRow gap)
    {
        var kind = gap.Kind switch
        {
            GapKind.Serial => HopKind.PieceMissing,
            GapKind.Container => HopKind.ContainerMissing,
            _ => HopKind.LotMissing,
        };
        if (!_presence.CouldBeUsed(gap.From, gap.To, gap.Station) || (kind == HopKind.ContainerMissing && _factor is not SuspectContainer))
        {
            return;
        }

        Add(new Reach(gap.Unit, kind, gap.RowId, via: null)
        {
            From = gap.From,
            SureFrom = gap.From,
            To = DateTimeOffset.MaxValue,
            IsProven = false,
            IsGapRow = true,
        });
    }

    private async ValueTask LoadAsync(List<Reach> level, IEnumerable<string> items, CancellationToken cancellation)
    {
        var components = _book.Missing(level.Select(r => r.Unit));
        string[] unseen = [.. items.Where(item => _serialGaps.TryAdd(item, []))];
        if (components.Count == 0 && unseen.Length == 0)
        {
            return;
        }

        var rows = await _source.LevelAsync(components, unseen, cancellation);
        _book.Add(rows.Installations);
        foreach (var gap in rows.SerialGaps)
        {
            _serialGaps[gap.Item].Add(gap);
        }

        foreach (var item in unseen)
        {
            _serialGaps[item].Sort(static (a, b) => Compare(a.RowId, a.Unit, b.RowId, b.Unit));
        }
    }

    private void PassOn(Reach reach)
    {
        foreach (var installation in _book.Of(reach.Unit))
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

    private async ValueTask FillAsync(List<GapRow> gaps, List<Reach> candidates, CancellationToken cancellation)
    {
        string[] unknown = [.. candidates.Select(r => r.Unit).Where(u => !_units.ContainsKey(u)).Distinct(StringComparer.Ordinal)];
        if (unknown.Length > 0)
        {
            foreach (var unit in await _source.UnitsAsync(unknown, cancellation))
            {
                _units[unit.Unit] = unit;
            }
        }

        var slots = new SerialSlots(
        [
            .. candidates.SelectMany(r =>
                SerialSlot.Of(r, _units.TryGetValue(r.Unit, out var unit) ? unit : null, _book.Of(r.Unit))),
        ]);
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

    private static int Compare(long rowA, string unitA, long rowB, string unitB)
    {
        var byRow = rowA.CompareTo(rowB);
        return byRow != 0 ? byRow : string.CompareOrdinal(unitA, unitB);
    }

    private static string ItemOf(string unit) => unit[..unit.IndexOf('/', StringComparison.Ordinal)];

    private static DateTimeOffset Earlier(DateTimeOffset a, DateTimeOffset b) => a < b ? a : b;

    private static DateTimeOffset Later(DateTimeOffset a, DateTimeOffset b) => a > b ? a : b;
}
