using Npgsql;
using NpgsqlTypes;
using Traceability.Contracts.Definitions;
using Traceability.Contracts.Lots;
using Traceability.Domain.Facts;
using Traceability.Domain.Judging;
using Traceability.Domain.Lots;
using Traceability.Domain.Primitives;
using Traceability.Service.Http;
using Traceability.Service.Storage;
using Traceability.Service.Storage.Answers;

namespace Traceability.Service.Features.Lots;

/// <summary>Answers questions about lots, each from one snapshot of the database.</summary>
internal sealed class LotReader(AnswerDatabase database, TimeProvider clock)
{
    /// <summary>A lot; null if it isn't known.</summary>
    public async Task<LotView?> FindAsync(LotKey key, CancellationToken cancellation)
    {
        await using var session = await database.OpenAsync(cancellation);
        var lots = await LotNaming.LoadAsync(session.Connection, [key], cancellation);
        return lots.GetValueOrDefault(key) is { Origin: not null } lot
            ? LotViews.Of(lot, lots, await NeedsInspectionAsync(session.Connection, key.Item, cancellation), clock.GetUtcNow())
                with { UsingUnits = await CountUnitsAsync(session.Connection, key, cancellation) }
            : null;
    }

    /// <summary>A page of the lots of an item, by number.</summary>
    public async Task<DefinitionPage<LotView>> ListAsync(ItemNumber item, string? after, int limit, CancellationToken cancellation)
    {
        await using var session = await database.OpenAsync(cancellation);
        var prefix = StreamNames.LotPrefix + item.Value + "/";
        var names = await ReadAsync(
            session.Connection,
            """
            select stream from traceability.reference_stream
            where stream collate "C" > $1 and starts_with(stream, $2) order by stream collate "C" limit $3
            """,
            [Text(prefix + after), Text(prefix), new() { Value = limit + 1 }],
            static r => r.GetString(0),
            cancellation);
        LotKey[] page = [.. names.Take(limit).Select(n => LotKey.Parse(n[StreamNames.LotPrefix.Length..]))];
        var views = await ViewsAsync(session.Connection, page, cancellation);
        return new(views, names.Count > limit ? page[^1].Lot.Value : null);
    }

    /// <summary>The lots that came in as a supplier's lot, by name; none if nobody knows it.</summary>
    public async Task<IReadOnlyList<LotView>> OfSupplierLotAsync(string supplierLot, string? supplier, CancellationToken cancellation)
    {
        await using var session = await database.OpenAsync(cancellation);
        var views = await ViewsAsync(session.Connection, await LotNaming.OfSupplierLotAsync(session.Connection, supplierLot, cancellation), cancellation);
        return [.. views.Where(v => string.Equals(v.SupplierLot, supplierLot, StringComparison.Ordinal) && (supplier is null || string.Equals(v.Supplier, supplier, StringComparison.Ordinal)))];
    }

    /// <summary>What it was made of and what of it; null if it isn't known.</summary>
    public async Task<LotLineageView?> LineageAsync(LotKey key, CancellationToken cancellation)
    {
        await using var session = await database.OpenAsync(cancellation);
        var lots = await LotNaming.LoadAsync(session.Connection, [key], cancellation);
        return lots.GetValueOrDefault(key) is { Origin: not null } ? LotViews.Of(key, LotLineage.Of(key, lots.Values)) : null;
    }

    /// <summary>What of it is unexplained; null if it isn't known.</summary>
    public async Task<LotBalanceView?> BalanceAsync(LotKey key, CancellationToken cancellation)
    {
        await using var session = await database.OpenAsync(cancellation);
        var lots = await LotNaming.LoadAsync(session.Connection, [key], cancellation);
        if (lots.GetValueOrDefault(key) is not { Origin: not null } lot)
        {
            return null;
        }

        return LotBalanceViews.Of(key, await LotBalances.ReadAsync(session.Connection, lot, lots.Values, cancellation));
    }

    private static async Task<bool> NeedsInspectionAsync(NpgsqlConnection connection, ItemNumber item, CancellationToken cancellation)
    {
        var stream = StreamNames.OfItem(item);
        return (await EventReader.LoadAsync(connection, [stream], cancellation)).TryGetValue(stream, out var facts)
            && References.FoldReadable(stream, facts) is Domain.Items.ItemDefined { NeedsInspection: true };
    }

    private static async Task<int> CountUnitsAsync(NpgsqlConnection connection, LotKey key, CancellationToken cancellation) =>
        (await ReadAsync(
            connection,
            "select count(distinct unit)::integer from traceability.material_usage where item = $1 and lot = $2",
            [Text(key.Item.Value), Text(key.Lot.Value)],
            static r => r.GetInt32(0),
            cancellation))[0];

    private async Task<IReadOnlyList<LotView>> ViewsAsync(NpgsqlConnection connection, IReadOnlyList<LotKey> keys, CancellationToken cancellation)
    {
        var lots = await LotNaming.LoadAsync(connection, keys, cancellation);
        var asks = new Dictionary<ItemNumber, bool>();
        foreach (var item in keys.Select(k => k.Item).Distinct())
        {
            asks[item] = await NeedsInspectionAsync(connection, item, cancellation);
        }

        var now = clock.GetUtcNow();
        return [.. keys.Select(lots.GetValueOrDefault).OfType<Lot>().Where(l => l.Origin is not null).Select(l => LotViews.Of(l, lots, asks[l.Key.Item], now))];
    }

    private static NpgsqlParameter Text(string value) => new() { Value = value, NpgsqlDbType = NpgsqlDbType.Text };

    private static async Task<List<T>> ReadAsync<T>(
        NpgsqlConnection connection, string sql, NpgsqlParameter[] parameters, Func<NpgsqlDataReader, T> read, CancellationToken cancellation)
    {
        var rows = new List<T>();
        await using var command = new NpgsqlCommand(sql, connection);
        command.Parameters.AddRange(parameters);
        await using var reader = await command.ExecuteReaderAsync(cancellation);
        while (await reader.ReadAsync(cancellation))
        {
            rows.Add(read(reader));
        }

        return rows;
    }
}
