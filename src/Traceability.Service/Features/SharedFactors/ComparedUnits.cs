using Npgsql;
using NpgsqlTypes;
using Traceability.Domain.Primitives;

namespace Traceability.Service.Features.SharedFactors;

/// <summary>The failed units and those that they are compared with.</summary>
/// <param name="Failed">The failed units, as item/serial.</param>
/// <param name="Others">The comparison.</param>
/// <param name="Items">The items of both.</param>
/// <param name="From">The comparison was opened from here on.</param>
/// <param name="To">The comparison was opened before this.</param>
/// <param name="Fitting">How many units fit the comparison.</param>
/// <param name="FailedLeftOut">Failed units that were left out because there were too many.</param>
internal sealed record ComparedUnits(
    string[] Failed, string[] Others, string[] Items, DateTimeOffset From, DateTimeOffset To, int Fitting, int FailedLeftOut)
{
    /// <summary>The most units that are compared with.</summary>
    public const int OthersMax = 5_000;

    private static readonly TimeSpan Margin = TimeSpan.FromDays(14);

    /// <summary>Finds them; null units where none failed, and the first named unit that is not known.</summary>
    public static async Task<(ComparedUnits? Units, UnitKey? Unknown)> FindAsync(NpgsqlConnection connection, Search search, CancellationToken cancellation)
    {
        var failed = search.Failure is { } failure
            ? await ByFailureAsync(connection, failure, cancellation)
            : search.Units.Select(u => u.ToString()).ToArray();
        var left = Math.Max(0, failed.Length - SearchReading.UnitsMax);
        failed = failed[..(failed.Length - left)];
        var opened = await OpenedAsync(connection, failed, cancellation);
        if (search.Failure is null && search.Units.FirstOrDefault(u => !opened.ContainsKey(u.ToString())) is { } unknown && unknown != default)
        {
            return (null, unknown);
        }

        if (failed.Length == 0)
        {
            return (null, null);
        }

        var from = search.ComparedFrom ?? opened.Values.Min() - Margin;
        var to = search.ComparedTo ?? opened.Values.Max() + Margin;
        string[] items = [.. failed.Select(u => UnitKey.ItemOf(u).ToString()).Distinct(StringComparer.Ordinal).Order(StringComparer.Ordinal)];
        var (others, fitting) = await OthersAsync(connection, items, from, to, failed, cancellation);
        return (new(failed, others, items, from, to, fitting, left), null);
    }

    private static async Task<string[]> ByFailureAsync(NpgsqlConnection connection, Failure failure, CancellationToken cancellation)
    {
        await using var command = new NpgsqlCommand(
            """
            select unit from (
                select f.unit, max(f.at) as at from traceability.finding f
                where f.is_defect and f.item = $1 and ($2::text is null or f.kind = $2) and ($3::text is null or f.step = $3)
                    and ($4::text is null or f.rule = $4) and ($5::timestamptz is null or f.at >= $5) and ($6::timestamptz is null or f.at < $6)
                group by f.unit) found
            order by at desc, unit collate "C"
            """,
            connection)
        {
            Parameters = { Text(failure.Item.Value), Text(failure.Kind), Text(failure.Step?.Value), Text(failure.Rule?.Value), Time(failure.From), Time(failure.To) },
        };
        await using var reader = await command.ExecuteReaderAsync(cancellation);
        List<string> units = [];
        while (await reader.ReadAsync(cancellation))
        {
            units.Add(reader.GetString(0));
        }

        return [.. units];
    }

    private static async Task<Dictionary<string, DateTimeOffset>> OpenedAsync(NpgsqlConnection connection, string[] units, CancellationToken cancellation)
    {
        await using var command = new NpgsqlCommand("select unit, opened_at from traceability.unit where unit = any($1) and opened_at is not null", connection)
        {
            Parameters = { new() { Value = units } },
        };
        await using var reader = await command.ExecuteReaderAsync(cancellation);
        var opened = new Dictionary<string, DateTimeOffset>(StringComparer.Ordinal);
        while (await reader.ReadAsync(cancellation))
        {
            opened.Add(reader.GetString(0), reader.GetFieldValue<DateTimeOffset>(1));
        }

        return opened;
    }

    // Which of too many are taken depends on their names only, so that the same question has the same answer.
    private static async Task<(string[] Units, int Fitting)> OthersAsync(
        NpgsqlConnection connection, string[] items, DateTimeOffset from, DateTimeOffset to, string[] failed, CancellationToken cancellation)
    {
        await using var command = new NpgsqlCommand(
            """
            select unit, count(*) over ()::integer from traceability.unit
            where item = any($1) and opened_at >= $2 and opened_at < $3 and ended_at is not null and place <> 'scrapped' and not unit = any($4)
            order by md5(unit), unit limit $5
            """,
            connection)
        {
            Parameters = { new() { Value = items }, Time(from), Time(to), new() { Value = failed }, new() { Value = OthersMax } },
        };
        await using var reader = await command.ExecuteReaderAsync(cancellation);
        List<string> units = [];
        var fitting = 0;
        while (await reader.ReadAsync(cancellation))
        {
            units.Add(reader.GetString(0));
            fitting = reader.GetInt32(1);
        }

        return ([.. units.Order(StringComparer.Ordinal)], fitting);
    }

    private static NpgsqlParameter Text(string? text) => new() { Value = (object?)text ?? DBNull.Value, NpgsqlDbType = NpgsqlDbType.Text };

    private static NpgsqlParameter Time(DateTimeOffset? at) => new() { Value = (object?)at?.UtcDateTime ?? DBNull.Value, NpgsqlDbType = NpgsqlDbType.TimestampTz };
}
