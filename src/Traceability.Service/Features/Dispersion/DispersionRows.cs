using Npgsql;
using NpgsqlTypes;
using Traceability.Contracts.Dispersion;
using Traceability.Domain.Dispersion;

namespace Traceability.Service.Features.Dispersion;

/// <summary>Reads what was counted in the background.</summary>
internal static class DispersionRows
{
    /// <summary>When it was counted, and whether that still holds.</summary>
    public static async Task<(DateTimeOffset? At, bool IsCurrent)> CountedAsync(NpgsqlConnection connection, CancellationToken cancellation)
    {
        await using var command = new NpgsqlCommand(
            $"select counted_at, state is not null and state = ({DispersionCounting.StateSql}) from traceability.dispersion_count", connection);
        var rows = await ReadAsync(
            command, static r => (At: r.IsDBNull(0) ? (DateTimeOffset?)null : r.GetFieldValue<DateTimeOffset>(0), IsCurrent: r.GetBoolean(1)), cancellation);
        return rows[0];
    }

    /// <summary>The counts of items, by name; an item of which nothing was counted is left out.</summary>
    public static async Task<IReadOnlyList<ItemDispersion>> ItemsAsync(NpgsqlConnection connection, string[] items, CancellationToken cancellation)
    {
        await using var command = new NpgsqlCommand(
            "select item, lots, finished, links, lots_most from traceability.item_dispersion where item = any($1) order by item collate \"C\"", connection)
        {
            Parameters = { new() { Value = items, NpgsqlDbType = NpgsqlDbType.Array | NpgsqlDbType.Text } },
        };
        return await ReadAsync(
            command, static r => Say(r.GetString(0), new(r.GetInt64(1), r.GetInt64(2), r.GetInt64(3), r.GetInt64(4))), cancellation);
    }

    /// <summary>Reads all rows.</summary>
    public static async Task<List<T>> ReadAsync<T>(NpgsqlCommand command, Func<NpgsqlDataReader, T> read, CancellationToken cancellation)
    {
        var rows = new List<T>();
        await using var reader = await command.ExecuteReaderAsync(cancellation);
        while (await reader.ReadAsync(cancellation))
        {
            rows.Add(read(reader));
        }

        return rows;
    }

    private static ItemDispersion Say(string item, BatchDispersion d) => new(
        item, d.Lots, d.FinishedUnits, d.Links, d.LotsPerUnit, d.LotsPerUnitMost, d.UnitsPerLot, d.LinksLeast, d.LinksOneAfterAnother, d.LinksByMixing, d.Words());
}
