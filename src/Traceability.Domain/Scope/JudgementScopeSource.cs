using Traceability.Domain.Judging;
using Traceability.Domain.Primitives;

namespace Traceability.Domain.Scope;

/// <summary>Rows for a walk from judgements that are held in memory.</summary>
/// <remarks>
/// Row ids are positions in the judgement's lists; for a gap, which has a row for each item accepted, the gap's position times
/// <see cref="ItemsMax"/> plus the item's.
/// </remarks>
public sealed class JudgementScopeSource : IScopeSource
{
    /// <summary>The most items that a gap may accept.</summary>
    public const int ItemsMax = 1_000;

    private readonly SortedDictionary<string, UnitJudgement> _units = new(StringComparer.Ordinal);
    private readonly ILookup<string, InstallationRow> _installations;

    /// <summary>Takes the judgements of all units.</summary>
    public JudgementScopeSource(IEnumerable<UnitJudgement> judgements)
    {
        foreach (var judgement in judgements)
        {
            _units.Add(judgement.Unit.ToString(), judgement);
        }

        _installations = _units.SelectMany(u => u.Value.Installations.Select((i, row) =>
            new InstallationRow(i.Component.ToString(), u.Key, row, i.From, i.To, i.Uncertainty, Stands(u.Key, u.Value.Status)))).ToLookup(i => i.Component, StringComparer.Ordinal);
    }

    /// <inheritdoc />
    public int FewUnits { get; init; } = 1_000;

    /// <inheritdoc />
    public ValueTask<DirectRows> DirectAsync(ClearingRule clearing, DateTimeOffset from, DateTimeOffset to, CancellationToken cancellation)
    {
        ArgumentNullException.ThrowIfNull(clearing);
        var lot = clearing.Factor.Lot;
        return new(new DirectRows(
            [
                .. _units.SelectMany(u => u.Value.Usages.Select((usage, row) => (Unit: u.Key, Usage: usage, Row: row)))
                    .Where(u => u.Usage.Lot == lot)
                    .Select(u => Row(u.Unit, u.Row, u.Usage)),
            ],
            [
                .. Gaps().Where(g => g.Gap.Items.Contains(lot.Item) && (g.Gap.Kind != GapKind.Container || g.Gap.Lot == lot))
                    .Where(g => g.Gap.Kind == GapKind.OwnLot || (g.Gap.From <= to && from <= (g.Gap.To ?? DateTimeOffset.MaxValue)))
                    .Select(g => Row(g.Unit, g.Row, g.Gap, lot.Item)),
            ]));
    }

    /// <inheritdoc />
    public ValueTask<IReadOnlyList<GapRow>> LotGapsAsync(
        IReadOnlyCollection<ItemNumber> items, DateTimeOffset from, DateTimeOffset to, CancellationToken cancellation) => new(
    [
        .. Gaps().Where(g => g.Gap.Kind is GapKind.Lot or GapKind.OwnLot && g.Gap.From <= to && from <= (g.Gap.To ?? DateTimeOffset.MaxValue))
            .SelectMany(g => g.Gap.Items.Where(items.Contains).Select(i => Row(g.Unit, g.Row, g.Gap, i))),
    ]);

    /// <inheritdoc />
    public ValueTask<IReadOnlyList<LotUsageRow>> UsagesAsync(IReadOnlyCollection<LotKey> lots, CancellationToken cancellation) => new(
    [
        .. _units.SelectMany(u => u.Value.Usages.Select((usage, row) => (Unit: u.Key, Usage: usage, Row: row, All: u.Value.Usages)))
            .Where(u => lots.Contains(u.Usage.Lot))
            .Select(u => new LotUsageRow(
                u.Usage.Lot,
                u.Usage.Record,
                u.Usage.Requirement?.Value,
                u.Usage.IsOneOf ? u.All.Count(o => o.IsOneOf && o.Record == u.Usage.Record && o.Requirement == u.Usage.Requirement) : 1,
                Row(u.Unit, u.Row, u.Usage))),
    ]);

    /// <inheritdoc />
    public ValueTask LevelAsync(
        IReadOnlyCollection<string> components, IReadOnlyCollection<string> items, ILevelRows into, CancellationToken cancellation)
    {
        ArgumentNullException.ThrowIfNull(into);
        foreach (var installation in components.SelectMany(c => _installations[c]))
        {
            into.Add(installation);
        }

        SerialGaps(items, into);
        return ValueTask.CompletedTask;
    }

    /// <inheritdoc />
    public ValueTask<IReadOnlyCollection<string>> ItemsAsync(IReadOnlyCollection<string> items, ILevelRows into, CancellationToken cancellation)
    {
        ArgumentNullException.ThrowIfNull(into);
        SerialGaps(items, into);
        return new([.. items.Where(item => _installations.Any(i => i.Key.StartsWith(item + "/", StringComparison.Ordinal)))]);
    }

    private void SerialGaps(IReadOnlyCollection<string> items, ILevelRows into)
    {
        var asked = items.ToHashSet(StringComparer.Ordinal);
        foreach (var (unit, row, gap) in Gaps().Where(g => g.Gap.Kind == GapKind.Serial))
        {
            foreach (var item in gap.Items.Where(i => asked.Contains(i.Value)))
            {
                into.Add(Row(unit, row, gap, item));
            }
        }
    }

    /// <inheritdoc />
    public ValueTask<IReadOnlyList<ToolUseRow>> ToolUsesAsync(
        ToolNumber tool, DateTimeOffset? from, DateTimeOffset? to, CancellationToken cancellation) => new(
    [
        .. Rows(u => u.ToolUsages).Where(u => u.Value.Tool == tool && !(u.Value.To < from) && !(u.Value.From > to)).Select(u => new ToolUseRow(
            u.Unit, u.Row, u.Value.Setting?.Value, u.Value.Step.Value, u.Value.From, u.Value.To, u.Value.Station?.Value)),
    ]);

    /// <inheritdoc />
    public ValueTask<IReadOnlyList<WorkRow>> WorkAsync(SuspectWork work, CancellationToken cancellation) => new(
    [
        .. Rows(u => u.Steps).Select(s => new WorkRow(
            s.Unit, s.Row, _units[s.Unit].Status.Variant?.Value, s.Value.Revision?.Value, s.Value.Step.Value, s.Value.Earliest, s.Value.Latest, s.Value.Station?.Value, s.Value.Person?.Value)),
    ]);

    /// <inheritdoc />
    public ValueTask<IReadOnlyList<MeasuredRow>> MeasuredAsync(SuspectMeasured measured, CancellationToken cancellation) => new(
    [
        .. Rows(u => u.Measurements).Where(m => m.Value.Characteristic == measured.Characteristic && IsOf(m.Unit, measured.Item)).Select(m => new MeasuredRow(
            m.Unit, m.Row, m.Value.Step.Value, m.Value.Value?.ToString(), m.Value.Magnitude, m.Value.Dimension, m.Value.Uncertainty, m.Value.Passed, m.Value.From, m.Value.To, m.Value.Station?.Value)),
    ]);

    /// <inheritdoc />
    public ValueTask<IReadOnlyList<IntervalRow>> IntervalsAsync(SuspectInterval interval, CancellationToken cancellation) => new(
    [
        .. Rows(u => u.IntervalResults).Where(i => i.Value.Rule == interval.Rule && IsOf(i.Unit, interval.Item)).Select(i => new IntervalRow(
            i.Unit, i.Row, i.Value.ToStep.Value, i.Value.Least, i.Value.Most, i.Value.At, i.Value.Station?.Value)),
    ]);

    /// <inheritdoc />
    public ValueTask<IReadOnlyList<WorkGapRow>> WorkGapsAsync(
        WorkGapKind kind, ItemNumber? item, IReadOnlyCollection<string>? names, CancellationToken cancellation) => new(
    [
        .. Rows(u => u.WorkGaps)
            .Where(g => g.Value.Kind == kind && IsOf(g.Unit, item)
                && (names is null || ((kind == WorkGapKind.Tool ? g.Value.ToolClass : g.Value.Requirement)?.Value is { } name && names.Contains(name, StringComparer.Ordinal))))
            .Select(g => new WorkGapRow(
                g.Unit,
                g.Row,
                _units[g.Unit].Status.Variant?.Value,
                g.Value.Revision?.Value,
                g.Value.Step.Value,
                g.Value.From,
                g.Value.To,
                g.Value.Station?.Value,
                g.Value.Person?.Value,
                g.Value.Stations.IsEmpty ? null : string.Join(' ', g.Value.Stations))),
    ]);

    /// <inheritdoc />
    public ValueTask<IReadOnlyList<UnitRow>> UnitsAsync(IReadOnlyCollection<string> units, CancellationToken cancellation) => new(
    [
        .. units.Where(_units.ContainsKey).Select(u => Stands(u, _units[u].Status)),
    ]);

    /// <inheritdoc />
    public ValueTask<IReadOnlyDictionary<EvidenceKey, EvidenceRow>> EvidenceAsync(
        IReadOnlyCollection<EvidenceKey> keys, CancellationToken cancellation) =>
        new(keys.Distinct().ToDictionary(k => k, k => k.Kind switch
        {
            EvidenceKind.Usage => Say(_units[k.Unit].Usages[(int)k.RowId]),
            EvidenceKind.Gap => Say(_units[k.Unit].Gaps[(int)(k.RowId / ItemsMax)]),
            EvidenceKind.ToolUse => Say(_units[k.Unit].ToolUsages[(int)k.RowId]),
            EvidenceKind.Work => Say(_units[k.Unit].Steps[(int)k.RowId]),
            EvidenceKind.Measurement => Say(_units[k.Unit].Measurements[(int)k.RowId]),
            EvidenceKind.Interval => Say(_units[k.Unit].IntervalResults[(int)k.RowId]),
            EvidenceKind.WorkGap => Say(_units[k.Unit].WorkGaps[(int)k.RowId]),
            EvidenceKind.Unit => EvidenceRow.OfUnit(_units[k.Unit].Status.OpenedAt),
            _ => Say(_units[k.Unit].Installations[(int)k.RowId]),
        }));

    /// <inheritdoc />
    public ValueTask<int> CountClearedAsync(ImmutableArray<ClearingRule> rules, IReadOnlyCollection<string> members, CancellationToken cancellation) =>
        new(Cleared(rules, members).Count());

    /// <inheritdoc />
    public ValueTask<IReadOnlyList<ClearedUnit>> ClearedAsync(
        ImmutableArray<ClearingRule> rules, IReadOnlyCollection<string> members, string? after, int limit, CancellationToken cancellation) =>
        new([.. Cleared(rules, members).Where(c => after is null || string.CompareOrdinal(c.Unit, after) > 0).Take(limit)]);

    private static UnitRow Stands(string unit, UnitStatus status) =>
        new(unit, status.OpenedAt, status.Place, status.Step?.Value, status.Since, status.Consignee);

    private static UsageRow Row(string unit, int row, MaterialUsage u) =>
        new(unit, row, u.Container?.Value, u.IsOneOf, u.Step?.Value, u.From, u.To, u.Station?.Value, u.Quantity?.ToString());

    private static GapRow Row(string unit, int row, TraceGap gap, ItemNumber item) =>
        new(unit, ((long)row * ItemsMax) + gap.Items.IndexOf(item), gap.Kind, item.Value, gap.Step?.Value, gap.From, gap.To, gap.Station?.Value);

    private static EvidenceRow Say(MaterialUsage u) => new(
        u.Record, u.Step?.Value, u.Requirement?.Value, u.Lot.ToString(), u.Container?.Value, null, null, u.From, u.To, u.Station?.Value);

    private static EvidenceRow Say(TraceGap g) => new(
        g.Record, g.Step?.Value, g.Requirement?.Value, g.Lot?.ToString(), null, null, g.Reason, g.From, g.To, g.Station?.Value);

    private static EvidenceRow Say(Installation i) => new(
        i.Record, i.Step?.Value, i.Position.Value, null, null, i.Component.ToString(), null, i.From, i.To, null);

    private static EvidenceRow Say(ToolUsage u) =>
        new(u.Record, u.Step.Value, u.Requirement?.Value, null, null, null, null, u.From, u.To, u.Station?.Value) { Says = EvidenceWords.Tool(u.Tool.Value, u.Setting?.Value) };

    private static EvidenceRow Say(StepResult s) =>
        new(s.Record, s.Step.Value, null, null, null, null, null, s.Earliest, s.Latest, s.Station?.Value)
        {
            Says = EvidenceWords.Work(s.Station?.Value, s.Person?.Value, s.Revision?.Value),
        };

    private static EvidenceRow Say(MeasuredValue m) =>
        new(m.Record, m.Step.Value, m.Characteristic.Value, null, null, null, null, m.From, m.To, m.Station?.Value)
        {
            Says = EvidenceWords.Measured(m.Value?.ToString(), m.Uncertainty is not null, m.Passed),
        };

    private static EvidenceRow Say(IntervalResult i) =>
        new(i.ToRecord, i.ToStep.Value, i.Rule.Value, null, null, null, null, i.At, i.At, i.Station?.Value) { Says = EvidenceWords.Interval(i.Least, i.Most) };

    private static EvidenceRow Say(WorkGap g) => new(
        g.Record, g.Step.Value, g.Requirement?.Value, null, null, null, g.Reason, g.From, g.To, g.Station?.Value);

    private static bool IsOf(string unit, ItemNumber? item) => item is not { } i || unit.StartsWith(i.Value + "/", StringComparison.Ordinal);

    private IEnumerable<(string Unit, int Row, T Value)> Rows<T>(Func<UnitJudgement, ImmutableArray<T>> of) =>
        _units.SelectMany(u => of(u.Value).Select((value, row) => (u.Key, row, value)));

    private IEnumerable<(string Unit, int Row, TraceGap Gap)> Gaps() =>
        _units.SelectMany(u => u.Value.Gaps.Select((gap, row) => (u.Key, row, gap)));

    private IEnumerable<ClearedUnit> Cleared(ImmutableArray<ClearingRule> rules, IReadOnlyCollection<string> members)
    {
        var reached = members.ToHashSet(StringComparer.Ordinal);
        foreach (var (unit, judgement) in _units)
        {
            var evidence = judgement.Usages
                .Where(u => rules.Any(r => r.Clears(u.Lot, u.Container?.Value, u.Step is null || u.Requirement is not null, u.From, u.Station?.Value)))
                .OrderBy(u => u.From).ThenBy(u => u.Record).ThenBy(u => u.Lot.Lot.Value, StringComparer.Ordinal)
                .FirstOrDefault();
            if (evidence is not null && !judgement.Status.HasUnreadable && !reached.Contains(unit))
            {
                yield return new(unit, Say(evidence));
            }
        }
    }
}
