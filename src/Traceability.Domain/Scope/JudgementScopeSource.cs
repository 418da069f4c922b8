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
            new InstallationRow(i.Component.ToString(), u.Key, row, i.From, i.To))).ToLookup(i => i.Component, StringComparer.Ordinal);
    }

    /// <inheritdoc />
    public ValueTask<DirectRows> DirectAsync(LotKey lot, DateTimeOffset from, DateTimeOffset to, CancellationToken cancellation) => new(new DirectRows(
        [
            .. _units.SelectMany(u => u.Value.Usages.Select((usage, row) => (Unit: u.Key, Usage: usage, Row: row)))
                .Where(u => u.Usage.Lot == lot)
                .Select(u => Row(u.Unit, u.Row, u.Usage)),
        ],
        [
            .. Gaps().Where(g => g.Gap.Items.Contains(lot.Item) && (g.Gap.Kind != GapKind.Container || g.Gap.Lot == lot))
                .Where(g => g.Gap.From <= to && from <= (g.Gap.To ?? DateTimeOffset.MaxValue))
                .Select(g => Row(g.Unit, g.Row, g.Gap, lot.Item)),
        ]));

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
    public ValueTask<LevelRows> LevelAsync(
        IReadOnlyCollection<string> components, IReadOnlyCollection<string> items, CancellationToken cancellation)
    {
        var asked = items.ToHashSet(StringComparer.Ordinal);
        return new(new LevelRows(
            [.. components.SelectMany(c => _installations[c])],
            [
                .. Gaps().Where(g => g.Gap.Kind == GapKind.Serial)
                    .SelectMany(g => g.Gap.Items.Where(i => asked.Contains(i.Value)).Select(i => Row(g.Unit, g.Row, g.Gap, i))),
            ]));
    }

    /// <inheritdoc />
    public ValueTask<IReadOnlyList<UnitRow>> UnitsAsync(IReadOnlyCollection<string> units, CancellationToken cancellation) => new(
    [
        .. units.Where(_units.ContainsKey).Select(u => (Unit: u, _units[u].Status)).Select(u => new UnitRow(
            u.Unit, u.Status.OpenedAt, u.Status.Place, u.Status.Step?.Value, u.Status.Since, u.Status.Consignee)),
    ]);

    /// <inheritdoc />
    public ValueTask<IReadOnlyDictionary<EvidenceKey, EvidenceRow>> EvidenceAsync(
        IReadOnlyCollection<EvidenceKey> keys, CancellationToken cancellation) =>
        new(keys.Distinct().ToDictionary(k => k, k => k.Kind switch
        {
            EvidenceKind.Usage => Say(_units[k.Unit].Usages[(int)k.RowId]),
            EvidenceKind.Gap => Say(_units[k.Unit].Gaps[(int)(k.RowId / ItemsMax)]),
            EvidenceKind.Unit => EvidenceRow.OfUnit(_units[k.Unit].Status.OpenedAt),
            _ => Say(_units[k.Unit].Installations[(int)k.RowId]),
        }));

    /// <inheritdoc />
    public ValueTask<int> CountClearedAsync(ClearingRule rule, IReadOnlyCollection<string> members, CancellationToken cancellation) =>
        new(Cleared(rule, members).Count());

    /// <inheritdoc />
    public ValueTask<IReadOnlyList<ClearedUnit>> ClearedAsync(
        ClearingRule rule, IReadOnlyCollection<string> members, string? after, int limit, CancellationToken cancellation) =>
        new([.. Cleared(rule, members).Where(c => after is null || string.CompareOrdinal(c.Unit, after) > 0).Take(limit)]);

    private static UsageRow Row(string unit, int row, MaterialUsage u) =>
        new(unit, row, u.Container?.Value, u.IsOneOf, u.Step?.Value, u.From, u.To, u.Station?.Value);

    private static GapRow Row(string unit, int row, TraceGap gap, ItemNumber item) =>
        new(unit, ((long)row * ItemsMax) + gap.Items.IndexOf(item), gap.Kind, item.Value, gap.Step.Value, gap.From, gap.To, gap.Station?.Value);

    private static EvidenceRow Say(MaterialUsage u) => new(
        u.Record, u.Step?.Value, u.Requirement?.Value, u.Lot.ToString(), u.Container?.Value, null, null, u.From, u.To, u.Station?.Value);

    private static EvidenceRow Say(TraceGap g) => new(
        g.Record, g.Step.Value, g.Requirement.Value, g.Lot?.ToString(), null, null, g.Reason, g.From, g.To, g.Station?.Value);

    private static EvidenceRow Say(Installation i) => new(
        i.Record, i.Step?.Value, i.Position.Value, null, null, i.Component.ToString(), null, i.From, i.To, null);

    private IEnumerable<(string Unit, int Row, TraceGap Gap)> Gaps() =>
        _units.SelectMany(u => u.Value.Gaps.Select((gap, row) => (u.Key, row, gap)));

    private IEnumerable<ClearedUnit> Cleared(ClearingRule rule, IReadOnlyCollection<string> members)
    {
        var reached = members.ToHashSet(StringComparer.Ordinal);
        foreach (var (unit, judgement) in _units)
        {
            var evidence = judgement.Usages
                .Where(u => rule.Clears(u.Lot, u.Container?.Value, u.Step is null || u.Requirement is not null, u.From, u.Station?.Value))
                .OrderBy(u => u.From).ThenBy(u => u.Record).ThenBy(u => u.Lot.Lot.Value, StringComparer.Ordinal)
                .FirstOrDefault();
            if (evidence is not null && !judgement.Status.HasUnreadable && !reached.Contains(unit))
            {
                yield return new(unit, Say(evidence));
            }
        }
    }
}
