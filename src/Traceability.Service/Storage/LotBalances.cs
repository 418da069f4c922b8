using Npgsql;
using NpgsqlTypes;
using Traceability.Domain.Lots;
using Traceability.Domain.Primitives;
using Traceability.Domain.Routings;

namespace Traceability.Service.Storage;

/// <summary>Reads what a lot's mass balance is made of.</summary>
internal static class LotBalances
{
    /// <summary>The balance of a lot.</summary>
    /// <param name="connection">A connection that sees one moment.</param>
    /// <param name="lot">The lot.</param>
    /// <param name="family">The lots that were made of it.</param>
    /// <param name="withRoutings">Whether the released routings are asked for the least that a unit takes.</param>
    /// <param name="cancellation">Stops it.</param>
    public static async Task<LotBalance> ReadAsync(
        NpgsqlConnection connection, Lot lot, IEnumerable<Lot> family, bool withRoutings, CancellationToken cancellation)
    {
        LotDraw[] draws = [.. family.SelectMany(LotLineage.LinksOf).Where(l => l.From == lot.Key).Select(l => new LotDraw(l.Into, l.At, l.Quantity))];
        var uses = await UsesAsync(connection, lot.Key, LotBalance.MomentOf(lot) ?? DateTimeOffset.MaxValue, cancellation);
        return LotBalance.Of(lot, draws, uses, withRoutings ? LotBalance.LeastOf(lot.Key.Item, await ReleasedAsync(connection, cancellation)) : null);
    }

    /// <summary>What units used of a lot, those that say the same as one; without those that say no quantity, or one of several lots.</summary>
    public static Task<List<LotUseOfUnit>> PerUnitAsync(NpgsqlConnection connection, LotKey key, CancellationToken cancellation) => ReadAsync(
        connection,
        """
        select quantities, count(*)::integer from (
            select array_agg(quantity order by quantity) as quantities from traceability.material_usage
            where item = $1 and lot = $2 and step is not null group by unit having bool_and(quantity is not null and not is_one_of)) u
        group by quantities
        """,
        [Text(key.Item.Value), Text(key.Lot.Value)],
        static r => new LotUseOfUnit([.. r.GetFieldValue<string[]>(0).Select(EnteredQuantity.Parse)], r.GetInt32(1)),
        cancellation);

    /// <summary>How many uses of a lot say no quantity.</summary>
    public static async Task<int> CountWithoutQuantityAsync(NpgsqlConnection connection, LotKey key, CancellationToken cancellation) =>
        (await ReadAsync(
            connection,
            "select count(*)::integer from traceability.material_usage where item = $1 and lot = $2 and step is not null and quantity is null",
            [Text(key.Item.Value), Text(key.Lot.Value)],
            static r => r.GetInt32(0),
            cancellation))[0];

    // Those that say the same, as one. A use of which it isn't known whether it was before or after the moment isn't sure.
    private static Task<List<LotUse>> UsesAsync(NpgsqlConnection connection, LotKey key, DateTimeOffset until, CancellationToken cancellation) => ReadAsync(
        connection,
        """
        select quantity, is_one_of or used_to > $3, count(*)::integer from traceability.material_usage
        where item = $1 and lot = $2 and step is not null and used_from <= $3 group by 1, 2
        """,
        [Text(key.Item.Value), Text(key.Lot.Value), new() { Value = until.UtcDateTime, NpgsqlDbType = NpgsqlDbType.TimestampTz }],
        static r => new LotUse(r.IsDBNull(0) ? null : EnteredQuantity.Parse(r.GetString(0)), r.GetBoolean(1), r.GetInt32(2)),
        cancellation);

    private static async Task<IEnumerable<RoutingRevision>> ReleasedAsync(NpgsqlConnection connection, CancellationToken cancellation)
    {
        var names = await ReadAsync(connection, "select stream from traceability.reference_stream where kind = 'routing'", [], static r => r.GetString(0), cancellation);
        return (await EventReader.LoadAsync(connection, names, cancellation))
            .Select(s => Domain.Judging.References.FoldReadable(s.Key, s.Value)).OfType<Routing>().SelectMany(r => r.Released);
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
