using Traceability.Domain.Judging;
using Traceability.Domain.Primitives;
using Traceability.Domain.Scope;

namespace Traceability.Domain.Narrowing;

/// <summary>What a fact that is missing would say.</summary>
public enum FactMissing
{
    /// <summary>Which lot was used.</summary>
    Lot,

    /// <summary>Which container of the lot was used.</summary>
    Container,

    /// <summary>Which piece was put in.</summary>
    Serial,

    /// <summary>Which of the lots that the record names was used.</summary>
    WhichLot,

    /// <summary>Which tool was used.</summary>
    Tool,

    /// <summary>Where, when and by whom the step was done.</summary>
    Work,

    /// <summary>What was measured or found.</summary>
    Value,

    /// <summary>How long the interval was.</summary>
    Interval,

    /// <summary>Which lot the unit itself, or a component of which nothing is recorded, came in.</summary>
    OwnLot,
}

/// <summary>A row of evidence that another fact would settle.</summary>
/// <param name="Key">The row.</param>
/// <param name="Missing">What the fact would say.</param>
public readonly record struct OpenRow(EvidenceKey Key, FactMissing Missing);

/// <summary>
/// Rows of another source, each looked up once however often it is asked for, and as they would be had certain missing facts named
/// something that nobody suspects: a gap is gone, a record that names several lots names another one, a container is another one.
/// </summary>
/// <param name="source">The rows as they are; of one moment.</param>
public sealed class WhatIfSource(IScopeSource source) : IScopeSource
{
    // No container is called so: codes have no control characters.
    private const string AnotherContainer = "\u0001";

    private readonly Dictionary<(LotKey Lot, DateTimeOffset From, DateTimeOffset To), DirectRows> _direct = [];
    private readonly Dictionary<(string Items, DateTimeOffset From, DateTimeOffset To), IReadOnlyList<GapRow>> _lotGaps = [];
    private readonly Dictionary<string, IReadOnlyList<LotUsageRow>> _usages = new(StringComparer.Ordinal);
    private readonly Dictionary<string, List<InstallationRow>> _installations = new(StringComparer.Ordinal);
    private readonly Dictionary<string, List<GapRow>> _serialGaps = new(StringComparer.Ordinal);
    private readonly Dictionary<(WorkGapKind Kind, string Item, string Names), IReadOnlyList<WorkGapRow>> _workGaps = [];
    private readonly Dictionary<string, UnitRow?> _units = new(StringComparer.Ordinal);
    private HashSet<EvidenceKey> _settled = [];

    /// <inheritdoc />
    public int FewUnits => source.FewUnits;

    /// <summary>From here on the rows are as if the facts that these rows wait for named something else; none: as they are.</summary>
    public void Settle(IEnumerable<EvidenceKey> rows) => _settled = [.. rows];

    /// <summary>The rows seen so far, of these units, that another fact would settle.</summary>
    public IReadOnlyCollection<OpenRow> OpenRowsOf(IReadOnlySet<string> units)
    {
        var rows = new HashSet<OpenRow>();
        foreach (var direct in _direct.Values)
        {
            rows.UnionWith(direct.Usages.Where(u => units.Contains(u.Unit)).Select(Open).OfType<OpenRow>());
            rows.UnionWith(direct.Gaps.Where(g => units.Contains(g.Unit)).Select(Open));
        }

        rows.UnionWith(_usages.Values.SelectMany(u => u).Select(u => u.Usage).Where(u => units.Contains(u.Unit)).Select(Open).OfType<OpenRow>());
        rows.UnionWith(_lotGaps.Values.SelectMany(g => g).Concat(_serialGaps.Values.SelectMany(g => g)).Where(g => units.Contains(g.Unit)).Select(Open));
        foreach (var ((kind, _, _), gaps) in _workGaps)
        {
            rows.UnionWith(gaps.Where(g => units.Contains(g.Unit)).Select(g => new OpenRow(KeyOf(g), MissingOf(kind))));
        }

        return rows;
    }

    /// <inheritdoc />
    public async ValueTask<DirectRows> DirectAsync(ClearingRule clearing, DateTimeOffset from, DateTimeOffset to, CancellationToken cancellation)
    {
        ArgumentNullException.ThrowIfNull(clearing);
        var lot = clearing.Factor.Lot;
        if (!_direct.TryGetValue((lot, from, to), out var rows))
        {
            rows = await source.DirectAsync(clearing, from, to, cancellation);
            _direct.Add((lot, from, to), rows);
        }

        return _settled.Count == 0 ? rows : new([.. rows.Usages.Where(IsLeft).Select(Settled)], [.. rows.Gaps.Where(IsLeft)]);
    }

    /// <inheritdoc />
    public async ValueTask<IReadOnlyList<GapRow>> LotGapsAsync(
        IReadOnlyCollection<ItemNumber> items, DateTimeOffset from, DateTimeOffset to, CancellationToken cancellation)
    {
        var key = (string.Join(' ', items), from, to);
        if (!_lotGaps.TryGetValue(key, out var rows))
        {
            rows = await source.LotGapsAsync(items, from, to, cancellation);
            _lotGaps.Add(key, rows);
        }

        return _settled.Count == 0 ? rows : [.. rows.Where(IsLeft)];
    }

    /// <inheritdoc />
    public async ValueTask<IReadOnlyList<LotUsageRow>> UsagesAsync(IReadOnlyCollection<LotKey> lots, CancellationToken cancellation)
    {
        var name = string.Join(' ', lots);
        if (!_usages.TryGetValue(name, out var rows))
        {
            rows = await source.UsagesAsync(lots, cancellation);
            _usages.Add(name, rows);
        }

        return _settled.Count == 0 ? rows : [.. rows.Where(r => IsLeft(r.Usage)).Select(r => r with { Usage = Settled(r.Usage) })];
    }

    /// <inheritdoc />
    public async ValueTask LevelAsync(
        IReadOnlyCollection<string> components, IReadOnlyCollection<string> items, ILevelRows into, CancellationToken cancellation)
    {
        ArgumentNullException.ThrowIfNull(into);
        string[] newComponents = [.. components.Where(c => _installations.TryAdd(c, []))];
        string[] newItems = [.. items.Where(i => _serialGaps.TryAdd(i, []))];
        if (newComponents.Length > 0 || newItems.Length > 0)
        {
            var found = new LevelRows();
            await source.LevelAsync(newComponents, newItems, found, cancellation);
            foreach (var row in found.Installations)
            {
                _installations[row.Component].Add(row);
            }

            Keep(found.SerialGaps);
        }

        foreach (var installation in components.SelectMany(c => _installations[c]))
        {
            into.Add(installation);
        }

        Give(items, into);
    }

    /// <inheritdoc />
    public async ValueTask<IReadOnlyCollection<string>> ItemsAsync(IReadOnlyCollection<string> items, ILevelRows into, CancellationToken cancellation)
    {
        ArgumentNullException.ThrowIfNull(into);
        var unseen = items.Where(i => _serialGaps.TryAdd(i, [])).ToHashSet(StringComparer.Ordinal);
        var found = new LevelRows();
        var components = await source.ItemsAsync(items, found, cancellation);
        Keep(found.SerialGaps.Where(g => unseen.Contains(g.Item)));
        Give(items, into);
        return components;
    }

    private void Keep(IEnumerable<GapRow> serialGaps)
    {
        foreach (var gap in serialGaps)
        {
            _serialGaps[gap.Item].Add(gap);
        }
    }

    private void Give(IEnumerable<string> items, ILevelRows into)
    {
        foreach (var gap in items.SelectMany(i => _serialGaps[i]).Where(IsLeft))
        {
            into.Add(gap);
        }
    }

    /// <inheritdoc />
    public ValueTask<IReadOnlyList<ToolUseRow>> ToolUsesAsync(
        ToolNumber tool, DateTimeOffset? from, DateTimeOffset? to, CancellationToken cancellation) => source.ToolUsesAsync(tool, from, to, cancellation);

    /// <inheritdoc />
    public ValueTask<IReadOnlyList<WorkRow>> WorkAsync(SuspectWork work, CancellationToken cancellation) => source.WorkAsync(work, cancellation);

    /// <inheritdoc />
    public ValueTask<IReadOnlyList<MeasuredRow>> MeasuredAsync(SuspectMeasured measured, CancellationToken cancellation) =>
        source.MeasuredAsync(measured, cancellation);

    /// <inheritdoc />
    public ValueTask<IReadOnlyList<IntervalRow>> IntervalsAsync(SuspectInterval interval, CancellationToken cancellation) =>
        source.IntervalsAsync(interval, cancellation);

    /// <inheritdoc />
    public async ValueTask<IReadOnlyList<WorkGapRow>> WorkGapsAsync(
        WorkGapKind kind, ItemNumber? item, IReadOnlyCollection<string>? names, CancellationToken cancellation)
    {
        var key = (kind, item?.Value ?? string.Empty, names is null ? string.Empty : string.Join(' ', names));
        if (!_workGaps.TryGetValue(key, out var rows))
        {
            rows = await source.WorkGapsAsync(kind, item, names, cancellation);
            _workGaps.Add(key, rows);
        }

        return _settled.Count == 0 ? rows : [.. rows.Where(r => !_settled.Contains(KeyOf(r)))];
    }

    /// <inheritdoc />
    public async ValueTask<IReadOnlyList<UnitRow>> UnitsAsync(IReadOnlyCollection<string> units, CancellationToken cancellation)
    {
        string[] unseen = [.. units.Where(u => _units.TryAdd(u, null))];
        if (unseen.Length > 0)
        {
            foreach (var row in await source.UnitsAsync(unseen, cancellation))
            {
                _units[row.Unit] = row;
            }
        }

        return [.. units.Select(u => _units[u]).OfType<UnitRow>()];
    }

    /// <inheritdoc />
    public ValueTask<IReadOnlyDictionary<EvidenceKey, EvidenceRow>> EvidenceAsync(IReadOnlyCollection<EvidenceKey> keys, CancellationToken cancellation) =>
        source.EvidenceAsync(keys, cancellation);

    /// <inheritdoc />
    public ValueTask<int> CountClearedAsync(ImmutableArray<ClearingRule> rules, IReadOnlyCollection<string> members, CancellationToken cancellation) =>
        source.CountClearedAsync(rules, members, cancellation);

    /// <inheritdoc />
    public ValueTask<IReadOnlyList<ClearedUnit>> ClearedAsync(
        ImmutableArray<ClearingRule> rules, IReadOnlyCollection<string> members, string? after, int limit, CancellationToken cancellation) =>
        source.ClearedAsync(rules, members, after, limit, cancellation);

    private static EvidenceKey KeyOf(UsageRow row) => new(EvidenceKind.Usage, row.Unit, row.RowId);

    private static EvidenceKey KeyOf(GapRow row) => new(EvidenceKind.Gap, row.Unit, row.RowId);

    private static EvidenceKey KeyOf(WorkGapRow row) => new(EvidenceKind.WorkGap, row.Unit, row.RowId);

    private static FactMissing MissingOf(WorkGapKind kind) => kind switch
    {
        WorkGapKind.Step => FactMissing.Work,
        WorkGapKind.Tool => FactMissing.Tool,
        WorkGapKind.Characteristic => FactMissing.Value,
        WorkGapKind.Interval => FactMissing.Interval,
        _ => throw new System.Diagnostics.UnreachableException(),
    };

    private static OpenRow? Open(UsageRow row) =>
        row.IsOneOf ? new(KeyOf(row), FactMissing.WhichLot) : row.Container is null ? new(KeyOf(row), FactMissing.Container) : null;

    private static OpenRow Open(GapRow row) => new(KeyOf(row), row.Kind switch
    {
        GapKind.Lot => FactMissing.Lot,
        GapKind.Container => FactMissing.Container,
        GapKind.Serial => FactMissing.Serial,
        GapKind.OwnLot => FactMissing.OwnLot,
        _ => throw new System.Diagnostics.UnreachableException(),
    });

    private bool IsLeft(GapRow row) => _settled.Count == 0 || !_settled.Contains(KeyOf(row));

    private bool IsLeft(UsageRow row) => !row.IsOneOf || !_settled.Contains(KeyOf(row));

    private UsageRow Settled(UsageRow row) =>
        row.Container is null && _settled.Contains(KeyOf(row)) ? row with { Container = AnotherContainer } : row;
}
