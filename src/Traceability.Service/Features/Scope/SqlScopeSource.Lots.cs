using Npgsql;
using Traceability.Domain.Primitives;
using Traceability.Domain.Scope;

namespace Traceability.Service.Features.Scope;

/// <content>Rows that tell of lots.</content>
internal sealed partial class SqlScopeSource
{
    private const string Usages =
        """
        select unit, row_id, container, is_one_of, step, used_from, used_to, station, quantity, record, requirement
        from traceability.material_usage where item = $1 and lot = $2
        """;

    private const string Gaps =
        """
        select unit, row_id, kind, item, step, used_from, used_to, station
        from traceability.trace_gap
        where item = $1 and (kind in ('lot', 'serial') or (kind = 'container' and lot = $2))
        and used_from <= $4 and (used_to is null or used_to >= $3)
        union all
        select unit, row_id, kind, item, step, used_from, used_to, station
        from traceability.trace_gap where item = $1 and kind = 'own-lot'
        """;

    private readonly Dictionary<LotKey, IReadOnlyList<UsageRow>> _usages = [];

    /// <summary>The statement that asks for a lot's uses, for a batch before the walk: nothing else must be known for it.</summary>
    public static NpgsqlBatchCommand UsagesCommand(LotKey lot) => BatchCommand(Usages, [Text(lot.Item.Value), Text(lot.Lot.Value)]);

    /// <summary>Reads its result, and keeps it for <see cref="DirectAsync"/>.</summary>
    public async Task KeepUsagesAsync(LotKey lot, NpgsqlDataReader reader, CancellationToken cancellation) =>
        _usages[lot] = await ReadUsagesAsync(lot, reader, cancellation);

    /// <inheritdoc />
    public async ValueTask<DirectRows> DirectAsync(ClearingRule clearing, DateTimeOffset from, DateTimeOffset to, CancellationToken cancellation)
    {
        var lot = clearing.Factor.Lot;
        var isKept = _usages.Remove(lot, out var usages);
        await using var batch = new NpgsqlBatch(connection);
        if (!isKept)
        {
            batch.BatchCommands.Add(UsagesCommand(lot));
        }

        batch.BatchCommands.Add(BatchCommand(Gaps, [Text(lot.Item.Value), Text(lot.Lot.Value), Instant(from), Instant(to)]));
        var ahead = usages is { Count: > 0 } ? AddAhead(batch, usages, clearing) : null;
        await using var reader = await batch.ExecuteReaderAsync(cancellation);
        if (!isKept)
        {
            usages = await ReadUsagesAsync(lot, reader, cancellation);
            await reader.NextResultAsync(cancellation);
        }

        var gaps = await ReadAsync(reader, Gap, cancellation);
        (_ways, _items) = (ahead?.Ways, ahead?.Items);
        if (ahead is not null)
        {
            await ReadAheadAsync(reader, ahead, clearing, cancellation);
        }

        return new(usages!, gaps);
    }

    /// <inheritdoc />
    public async ValueTask<IReadOnlyList<GapRow>> LotGapsAsync(
        IReadOnlyCollection<ItemNumber> items, DateTimeOffset from, DateTimeOffset to, CancellationToken cancellation) => await ReadAsync(
        """
        select g.unit, g.row_id, g.kind, g.item, g.step, g.used_from, g.used_to, g.station
        from unnest($1) k (item) cross join lateral (
            select * from traceability.trace_gap where item = k.item and kind in ('lot', 'own-lot')
            and used_from <= $3 and (used_to is null or used_to >= $2) offset 0) g
        """,
        [Texts([.. items.Select(i => i.Value)]), Instant(from), Instant(to)],
        Gap,
        cancellation);

    /// <inheritdoc />
    public async ValueTask<IReadOnlyList<LotUsageRow>> UsagesAsync(IReadOnlyCollection<LotKey> lots, CancellationToken cancellation)
    {
        LotKey[] keys = [.. lots];
        return await ReadAsync(
            """
            select k.n::integer, u.record, u.requirement,
                case when u.is_one_of then (
                    select count(*)::integer from traceability.material_usage o
                    where o.unit = u.unit and o.record = u.record and o.requirement is not distinct from u.requirement and o.is_one_of) else 1 end,
                u.unit, u.row_id, u.container, u.is_one_of, u.step, u.used_from, u.used_to, u.station, u.quantity
            from unnest($1, $2) with ordinality k (item, lot, n) cross join lateral (
                select * from traceability.material_usage where item = k.item and lot = k.lot offset 0) u
            """,
            [Texts([.. keys.Select(k => k.Item.Value)]), Texts([.. keys.Select(k => k.Lot.Value)])],
            r => new LotUsageRow(
                keys[r.GetInt32(0) - 1],
                r.GetGuid(1),
                NullableText(r, 2),
                r.GetInt32(3),
                new(r.GetString(4), r.GetInt64(5), NullableText(r, 6), r.GetBoolean(7), NullableText(r, 8), Time(r, 9), Time(r, 10), NullableText(r, 11), NullableText(r, 12))),
            cancellation);
    }

    private async ValueTask<IReadOnlyList<UsageRow>> ReadUsagesAsync(LotKey lot, NpgsqlDataReader reader, CancellationToken cancellation)
    {
        var (containers, steps, stations, quantities) = (new RepeatedText(), new RepeatedText(), new RepeatedText(), new RepeatedText());
        return await ReadManyAsync(reader, Read, cancellation);

        UsageRow Read(NpgsqlDataReader r)
        {
            var usage = new UsageRow(
                r.GetString(0),
                r.GetInt64(1),
                containers.Of(NullableText(r, 2)),
                r.GetBoolean(3),
                steps.Of(NullableText(r, 4)),
                Time(r, 5),
                Time(r, 6),
                stations.Of(NullableText(r, 7)),
                quantities.Of(NullableText(r, 8)));
            if (_seen.HasRoom)
            {
                _seen.Add(
                    new(EvidenceKind.Usage, usage.Unit, usage.RowId),
                    new(r.GetGuid(9), usage.Step, NullableText(r, 10), lot.ToString(), usage.Container, null, null, usage.From, usage.To, usage.Station));
            }

            return usage;
        }
    }
}
