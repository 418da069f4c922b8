using System.Runtime.InteropServices;
using Traceability.Domain.Judging;
using Traceability.Domain.Primitives;

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
    private readonly SuspectFactor _factor;
    private readonly LotPresence _presence;
    private readonly ImmutableArray<LotCarrier> _carriers;
    private readonly IScopeSource _source;
    private readonly Dictionary<string, Reach> _reached = new(StringComparer.Ordinal);
    private readonly InstallationBook _book = new();
    private readonly Dictionary<string, List<GapRow>> _serialGaps = new(StringComparer.Ordinal);
    private readonly Dictionary<string, UnitRow> _units = new(StringComparer.Ordinal);
    private List<Reach> _frontier = [];

    private ScopeWalk(SuspectFactor factor, LotPresence presence, ImmutableArray<LotCarrier> carriers, IScopeSource source)
    {
        _factor = factor;
        _presence = presence;
        _carriers = carriers;
        _source = source;
    }

    /// <summary>Walks from the suspect to everything that it reaches.</summary>
    /// <param name="factor">The suspect.</param>
    /// <param name="presence">When and where it could have been used.</param>
    /// <param name="source">Where the rows are.</param>
    /// <param name="cancellation">Stops the walk.</param>
    public static ValueTask<ScopeResult> RunAsync(
        SuspectFactor factor, LotPresence presence, IScopeSource source, CancellationToken cancellation) =>
        RunAsync(factor, presence, [], source, cancellation);

    /// <summary>Walks from the suspect, and from the lots that carry material of it, to everything that it reaches.</summary>
    /// <param name="factor">The suspect.</param>
    /// <param name="presence">When and where it could have been used.</param>
    /// <param name="carriers">Lots that were made of it.</param>
    /// <param name="source">Where the rows are.</param>
    /// <param name="cancellation">Stops the walk.</param>
    public static async ValueTask<ScopeResult> RunAsync(
        SuspectFactor factor, LotPresence presence, ImmutableArray<LotCarrier> carriers, IScopeSource source, CancellationToken cancellation)
    {
        var walk = new ScopeWalk(factor, presence, carriers, source);
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
        return new(factor, presence.With(carriers.Select(c => c.Presence)), isLotNamed, isNamed, ImmutableCollectionsMarshal.AsImmutableArray(members), walk._book);
    }

    private async ValueTask<(bool IsLotNamed, bool IsNamed)> StartAsync(CancellationToken cancellation)
    {
        var all = _carriers.IsEmpty ? _presence : _presence.With(_carriers.Select(c => c.Presence));
        var (usageRows, gapRows) = await _source.DirectAsync(_factor.Lot, all.From, all.To, cancellation);

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

        if (!_carriers.IsEmpty)
        {
            AddCarried([.. await _source.UsagesAsync([_factor.Lot, .. _carriers.Select(c => c.Lot)], cancellation)]);
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

    private void AddCarried(LotUsageRow[] rows)
    {
        Array.Sort(rows, static (a, b) => Compare(a.Usage.RowId, a.Usage.Unit, b.Usage.RowId, b.Usage.Unit));
        var carriers = _carriers.ToDictionary(c => c.Lot);
        foreach (var row in rows)
        {
            if (row.Lot != _factor.Lot && carriers[row.Lot].Share(row.Usage.From, row.Usage.To) is { } share)
            {
                var kind = row.Usage.IsOneOf ? HopKind.OneOfSeveral : share == ScopeVerdict.Proven ? HopKind.Sublot : HopKind.MixedLot;
                Add(Carried(row.Usage, kind, Later(row.Usage.From, carriers[row.Lot].CarriesFrom)));
            }
        }

        // One of several was used, and whichever it was, it was of the suspect.
        foreach (var record in rows.Where(r => r.Usage.IsOneOf).GroupBy(r => (r.Usage.Unit, r.Record, r.Requirement)))
        {
            if (record.Count() == record.First().LotCount && record.All(r => IsProven(r, carriers)))
            {
                Add(Carried(record.First().Usage, HopKind.EachOfSeveral, record.First().Usage.From));
            }
        }
    }

    private bool IsProven(LotUsageRow row, Dictionary<LotKey, LotCarrier> carriers) => row.Lot != _factor.Lot
        ? carriers[row.Lot].Share(row.Usage.From, row.Usage.To) == ScopeVerdict.Proven
        : _factor is not SuspectContainer { Container.Value: var suspect } || string.Equals(row.Usage.Container, suspect, StringComparison.Ordinal);

    private static Reach Carried(UsageRow usage, HopKind kind, DateTimeOffset from) => new(usage.Unit, kind, usage.RowId, via: null)
    {
        From = usage.IsOwnLot ? DateTimeOffset.MinValue : from,
        SureFrom = usage.IsOwnLot ? DateTimeOffset.MinValue : usage.To,
        To = DateTimeOffset.MaxValue,
        IsProven = kind is HopKind.Sublot or HopKind.EachOfSeveral,
    };

    private bool CouldBeUsed(GapRow gap)
    {
        if (_presence.CouldBeUsed(gap.From, gap.To, gap.Station))
        {
            return true;
        }

        foreach (var carrier in _carriers)
        {
            if (carrier.Presence.CouldBeUsed(gap.From, gap.To, gap.Station))
            {
                return true;
            }
        }

        return false;
    }

    private void AddGap(GapRow gap)
    {
        var kind = gap.Kind switch
        {
            GapKind.Serial => HopKind.PieceMissing,
            GapKind.Container => HopKind.ContainerMissing,
            _ => HopKind.LotMissing,
        };
        if (kind == HopKind.ContainerMissing
            ? _factor is not SuspectContainer || !_presence.CouldBeUsed(gap.From, gap.To, gap.Station)
            : !CouldBeUsed(gap))
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
