using Npgsql;
using NpgsqlTypes;
using Traceability.Domain.Nonconformances;
using Traceability.Domain.Primitives;
using Traceability.Service.Http.Querying;
using Traceability.Service.Storage;

namespace Traceability.Service.Features.Nonconformances;

/// <summary>Which nonconformances are asked for.</summary>
internal sealed record NonconformanceFilter(
    ItemNumber? Item, SerialNumber? Serial, ImmutableArray<string>? States, bool OpenOnly, StepCode? Step, Code? Defect, Code? Concession, DateTimeOffset? From, DateTimeOffset? To)
{
    private static readonly ImmutableArray<string> StateNames = [.. Enum.GetValues<NonconformanceState>().Select(EnumNames<NonconformanceState>.Of)];

    /// <summary>The condition, on the table called n; its parameters are the first eight.</summary>
    public string Sql =>
        $"""
        ($1::text is null or n.item = $1) and ($2::text is null or n.unit = $2) and ($3::text[] is null or n.state = any($3))
        and ($4::text is null or n.step = $4) and ($5::text is null or n.defect = $5) and ($6::text is null or n.concession = $6)
        and ($7::timestamptz is null or n.at >= $7) and ($8::timestamptz is null or n.at < $8){(OpenOnly ? " and n.is_open" : string.Empty)}
        """;

    /// <summary>Reads the filter's parameters.</summary>
    public static NonconformanceFilter Read(QueryReader reader)
    {
        var filter = new NonconformanceFilter(
            reader.Code<ItemNumber>("item"),
            reader.Code<SerialNumber>("serial"),
            reader.Names("state", StateNames),
            reader.Flag("openOnly"),
            reader.Code<StepCode>("step"),
            reader.Code<Code>("defect"),
            reader.Code<Code>("concession"),
            reader.Time("from"),
            reader.Time("to"));
        if (filter.Serial is not null && filter.Item is null)
        {
            reader.Note("serial", "names a unit only together with item.");
        }

        if (filter.From >= filter.To)
        {
            reader.Note("to", "is not after from.");
        }

        return filter;
    }

    /// <summary>The refusal where the filter names an item or unit that is not known; null if all is.</summary>
    public async Task<Refusal?> FindUnknownAsync(NpgsqlConnection connection, ItemCatalogue catalogue, CancellationToken cancellation)
    {
        if (Item is not { } item)
        {
            return null;
        }

        if (await catalogue.FindAsync(connection, item, cancellation) is null)
        {
            return ItemCatalogue.Unknown(item);
        }

        if (Serial is not { } serial)
        {
            return null;
        }

        await using var command = new NpgsqlCommand("select 1 from traceability.unit where unit = $1", connection);
        command.Parameters.Add(new() { Value = new UnitKey(item, serial).ToString() });
        return await command.ExecuteScalarAsync(cancellation) is null
            ? Refusal.At("unit-unknown", RefusalKind.Unknown, "serial", $"Unit {item}/{serial} is not known here.")
            : null;
    }

    /// <summary>A statement with the condition's parameters.</summary>
    public NpgsqlCommand Command(NpgsqlConnection connection, string sql) => new(sql, connection)
    {
        Parameters =
        {
            Text(Item?.Value),
            Text(Serial is { } serial ? new UnitKey(Item!.Value, serial).ToString() : null),
            new() { Value = (object?)States?.ToArray() ?? DBNull.Value, NpgsqlDbType = NpgsqlDbType.Array | NpgsqlDbType.Text },
            Text(Step?.Value),
            Text(Defect?.Value),
            Text(Concession?.Value),
            Time(From),
            Time(To),
        },
    };

    private static NpgsqlParameter Text(string? text) => new() { Value = (object?)text ?? DBNull.Value, NpgsqlDbType = NpgsqlDbType.Text };

    private static NpgsqlParameter Time(DateTimeOffset? at) => new() { Value = (object?)at?.UtcDateTime ?? DBNull.Value, NpgsqlDbType = NpgsqlDbType.TimestampTz };
}
