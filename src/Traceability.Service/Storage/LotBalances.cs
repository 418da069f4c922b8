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
    /// <param name="cancellation">Stops it.</param>
    public static async Task<LotBalance> ReadAsync(NpgsqlConnection connection, Lot lot, IEnumerable<Lot> family, CancellationToken cancellation)
    {
        var uses = await UsesAsync(connection, lot.Key, LotBalance.MomentOf(lot) ?? DateTimeOffset.MaxValue, cancellation);
        return Of(lot, family, uses, await LeastPerUnitAsync(connection, lot.Key.Item, cancellation));
    }

    /// <summary>The balance of a lot whose uses are known.</summary>
    /// <param name="lot">The lot.</param>
    /// <param name="family">The lots that were made of it.</param>
    /// <param name="uses">Its uses on units until <see cref="LotBalance.MomentOf"/>.</param>
    /// <param name="leastPerUnit">The least that a unit takes; null if that isn't known.</param>
    public static LotBalance Of(Lot lot, IEnumerable<Lot> family, IReadOnlyCollection<LotUse> uses, EnteredQuantity? leastPerUnit)
    {
        LotDraw[] draws = [.. family.SelectMany(LotLineage.LinksOf).Where(l => l.From == lot.Key).Select(l => new LotDraw(l.Into, l.At, l.Quantity))];
        return LotBalance.Of(lot, draws, uses, leastPerUnit);
    }

    /// <summary>The least that a unit takes of an item by the released routings; null if that isn't known.</summary>
    public static async Task<EnteredQuantity?> LeastPerUnitAsync(NpgsqlConnection connection, ItemNumber item, CancellationToken cancellation)
    {
        var names = await ReadAsync(connection, "select stream from traceability.reference_stream where kind = 'routing'", [], static r => r.GetString(0), cancellation);
        return LotBalance.LeastOf(item, (await EventReader.LoadAsync(connection, names, cancellation))
            .Select(s => Domain.Judging.References.FoldReadable(s.Key, s.Value)).OfType<Routing>().SelectMany(r => r.Released));
    }

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
