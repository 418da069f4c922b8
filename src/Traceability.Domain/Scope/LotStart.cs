using Traceability.Domain.Judging;
using Traceability.Domain.Primitives;

namespace Traceability.Domain.Scope;

/// <summary>The units that a suspect lot or container reaches directly: by records that name it, and by gaps that it could fill.</summary>
internal sealed class LotStart
{
    private readonly SuspectFactor _factor;
    private readonly LotPresence _presence;
    private readonly ImmutableArray<LotCarrier> _carriers;
    private readonly IScopeSource _source;
    private readonly List<Reach> _seeds = [];

    public LotStart(SuspectFactor factor, LotPresence presence, ImmutableArray<LotCarrier> carriers, IScopeSource source)
    {
        _factor = factor;
        _presence = presence;
        _carriers = carriers;
        _source = source;
    }

    /// <summary>The rows that tell of the lot itself.</summary>
    public DirectRows Direct { get; private set; } = new([], []);

    /// <summary>Whether some record names the suspect.</summary>
    public bool IsNamed { get; private set; }

    /// <summary>Looks them up.</summary>
    public async ValueTask<IReadOnlyList<Reach>> FindAsync(CancellationToken cancellation)
    {
        var all = _carriers.IsEmpty ? _presence : _presence.With(_carriers.Select(c => c.Presence));
        var (usageRows, gapRows) = await _source.DirectAsync(new(_factor, _presence), all.From, all.To, cancellation);

        // In an order of their own, so that of two equal ways the same one is told every time.
        var usages = Sorted(usageRows);
        GapRow[] gaps = [.. gapRows, .. await MixGapsAsync(all, cancellation)];
        Array.Sort(gaps, static (a, b) => ScopeWalk.Compare(a.RowId, a.Unit, b.RowId, b.Unit));
        Direct = new(usages, gapRows);
        _seeds.Capacity = usages.Count;
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
        IsNamed = container is null ? usages.Count > 0 : usages.Any(u => string.Equals(u.Container, container, StringComparison.Ordinal));
        return _seeds;
    }

    private static IReadOnlyList<UsageRow> Sorted(IReadOnlyList<UsageRow> rows)
    {
        for (var i = 1; i < rows.Count; i++)
        {
            if (Compare(rows[i - 1], rows[i]) > 0)
            {
                UsageRow[] sorted = [.. rows];
                Array.Sort(sorted, Compare);
                return sorted;
            }
        }

        return rows;

        static int Compare(UsageRow a, UsageRow b) => ScopeWalk.Compare(a.RowId, a.Unit, b.RowId, b.Unit);
    }

    // A mix is of another item than its parts: where a lot of it is missing, that may have been one with the suspect in it.
    private async ValueTask<IReadOnlyList<GapRow>> MixGapsAsync(LotPresence all, CancellationToken cancellation)
    {
        ItemNumber[] mixes = [.. _carriers.Select(c => c.Lot.Item).Where(i => i != _factor.Lot.Item).Distinct()];
        return mixes.Length == 0 ? [] : await _source.LotGapsAsync(mixes, all.From, all.To, cancellation);
    }

    private void AddUsage(UsageRow usage)
    {
        if (Share(usage) is not { } share)
        {
            return;
        }

        var kind = usage.IsOneOf ? HopKind.OneOfSeveral : HopKind.Recorded;
        var from = usage.From;
        if (_factor is SuspectContainer { Container.Value: var suspect })
        {
            if (usage.Container is null)
            {
                if (!usage.IsOwnLot)
                {
                    if (EarliestUse(_presence, usage.From, usage.To, usage.Station) is not { } earliest)
                    {
                        return;
                    }

                    from = earliest;
                }

                kind = HopKind.ContainerMissing;
            }
            else if (!string.Equals(usage.Container, suspect, StringComparison.Ordinal))
            {
                return;
            }
        }

        _seeds.Add(Used(usage, kind, from, kind == HopKind.Recorded, share));
    }

    private void AddCarried(LotUsageRow[] rows)
    {
        Array.Sort(rows, static (a, b) => ScopeWalk.Compare(a.Usage.RowId, a.Usage.Unit, b.Usage.RowId, b.Usage.Unit));
        var carriers = _carriers.ToDictionary(c => c.Lot);
        foreach (var row in rows)
        {
            if (row.Lot != _factor.Lot && Share(row.Usage) is { } fits && carriers[row.Lot].Share(Earliest(row.Usage), Latest(row.Usage)) is { } share)
            {
                var kind = row.Usage.IsOneOf ? HopKind.OneOfSeveral : share == ScopeVerdict.Proven ? HopKind.Sublot : HopKind.MixedLot;
                _seeds.Add(Used(row.Usage, kind, ScopeWalk.Later(row.Usage.From, carriers[row.Lot].CarriesFrom), kind == HopKind.Sublot, fits));
            }
        }

        // One of several was used, and whichever it was, it was of the suspect.
        foreach (var record in rows.Where(r => r.Usage.IsOneOf).GroupBy(r => (r.Usage.Unit, r.Record, r.Requirement)))
        {
            if (record.Count() == record.First().LotCount && record.All(r => IsProven(r, carriers)) && Share(record.First().Usage) is { } fits)
            {
                _seeds.Add(Used(record.First().Usage, HopKind.EachOfSeveral, record.First().Usage.From, isProven: true, fits));
            }
        }
    }

    private bool IsProven(LotUsageRow row, Dictionary<LotKey, LotCarrier> carriers) => row.Lot != _factor.Lot
        ? carriers[row.Lot].Share(row.Usage.From, row.Usage.To) == ScopeVerdict.Proven
        : _factor is not SuspectContainer { Container.Value: var suspect } || string.Equals(row.Usage.Container, suspect, StringComparison.Ordinal);

    private Reach Used(UsageRow usage, HopKind kind, DateTimeOffset from, bool isProven, ScopeVerdict fits) => new(usage.Unit, kind, usage.RowId, via: null)
    {
        From = usage.IsOwnLot ? DateTimeOffset.MinValue : _factor.Filter.Earliest(from),
        SureFrom = usage.IsOwnLot ? DateTimeOffset.MinValue : usage.To,
        To = DateTimeOffset.MaxValue,
        IsProven = isProven && fits == ScopeVerdict.Proven,
        IsInDoubt = fits != ScopeVerdict.Proven,
    };

    // A piece of the lot was that before it was opened here: no time, step or station of a use is known of it.
    private ScopeVerdict? Share(UsageRow usage) => !usage.IsOwnLot ? _factor.Filter.Share(usage.From, usage.To, usage.Step, usage.Station)
        : _factor.Filter.IsNone ? ScopeVerdict.Proven : ScopeVerdict.Possible;

    private DateTimeOffset Earliest(UsageRow usage) => usage.IsOwnLot ? usage.From : _factor.Filter.Earliest(usage.From);

    private DateTimeOffset Latest(UsageRow usage) => usage.IsOwnLot ? usage.To : _factor.Filter.Latest(usage.To)!.Value;

    private DateTimeOffset? EarliestUse(LotPresence presence, DateTimeOffset from, DateTimeOffset? to, string? station) =>
        presence.EarliestUse(_factor.Filter.Earliest(from), _factor.Filter.Latest(to), station ?? _factor.Filter.Station?.Value);

    private void AddGap(GapRow gap)
    {
        if (gap.Kind == GapKind.OwnLot)
        {
            AddOwnLot(gap);
            return;
        }

        var kind = gap.Kind switch
        {
            GapKind.Serial => HopKind.PieceMissing,
            GapKind.Container => HopKind.ContainerMissing,
            _ => HopKind.LotMissing,
        };
        if (_factor.Filter.Share(gap.From, gap.To, gap.Step, gap.Station) is not null
            && (kind != HopKind.ContainerMissing || _factor is SuspectContainer)
            && EarliestUse(gap) is { } earliest)
        {
            Add(gap, kind, earliest);
        }
    }

    // It can't have been used before it was there. What is made of the suspect has containers of its own.
    private DateTimeOffset? EarliestUse(GapRow gap)
    {
        var earliest = Of(_factor.Lot, _presence);
        foreach (var carrier in gap.Kind == GapKind.Container ? [] : _carriers)
        {
            var first = Of(carrier.Lot, carrier.Presence);
            earliest = earliest < first || first is null ? earliest : first;
        }

        return earliest;

        DateTimeOffset? Of(LotKey lot, LotPresence presence) =>
            string.Equals(gap.Item, lot.Item.Value, StringComparison.Ordinal) ? EarliestUse(presence, gap.From, gap.To, gap.Station) : null;
    }

    // A piece of the lot was that before it was opened here, whatever time, step or station is asked for; and it may have been taken
    // out of a container that nobody had recorded as opened.
    private void AddOwnLot(GapRow gap)
    {
        if ((IsOfItem(_factor.Lot) && (_factor is SuspectContainer || IsThere(_presence))) || _carriers.Any(c => IsOfItem(c.Lot) && IsThere(c.Presence)))
        {
            Add(gap, HopKind.OwnLotMissing, gap.From);
        }

        bool IsOfItem(LotKey lot) => string.Equals(gap.Item, lot.Item.Value, StringComparison.Ordinal);

        bool IsThere(LotPresence presence) => presence.CouldBeUsed(DateTimeOffset.MinValue, gap.To, null);
    }

    private void Add(GapRow gap, HopKind kind, DateTimeOffset from) =>
        _seeds.Add(new Reach(gap.Unit, kind, gap.RowId, via: null)
        {
            From = from,
            SureFrom = from,
            To = DateTimeOffset.MaxValue,
            IsProven = false,
            IsGapRow = true,
        });
}
