using Npgsql;
using NpgsqlTypes;
using Traceability.Domain.Judging;
using Traceability.Domain.Primitives;
using Traceability.Service.Http.Querying;
using Traceability.Service.Storage;

namespace Traceability.Service.Features.Findings;

/// <summary>Which findings are asked for, whenever they happened.</summary>
internal sealed record FindingFilter(ItemNumber? Item, SerialNumber? Serial, string? Kind, StepCode? Step, bool DefectsOnly)
{
    /// <summary>The condition, on the table called f; its parameters are the first seven, the last two a period.</summary>
    public const string Sql =
        """
        ($1::text is null or f.item = $1) and ($2::text is null or f.unit = $2) and ($3::text is null or f.kind = $3)
        and ($4::text is null or f.step = $4) and (f.is_defect or not $5)
        and ($6::timestamptz is null or f.at >= $6) and ($7::timestamptz is null or f.at < $7)
        """;

    // The constants of the domain's list are the kinds that there are.
    private static readonly ImmutableSortedSet<string> Kinds =
        [.. typeof(FindingKinds).GetFields().Where(f => f.IsLiteral).Select(f => (string)f.GetRawConstantValue()!).Order(StringComparer.Ordinal)];

    /// <summary>Reads the filter's parameters.</summary>
    public static FindingFilter Read(QueryReader reader)
    {
        var item = reader.Code<ItemNumber>("item");
        var serial = reader.Code<SerialNumber>("serial");
        if (serial is not null && item is null)
        {
            reader.Note("serial", "names a unit only together with item.");
        }

        var kind = reader.Text("kind", text => Kinds.Contains(text) ? text : null, $"It is one of {string.Join(", ", Kinds)}.");
        return new(item, serial, kind, reader.Code<StepCode>("step"), reader.Flag("defectsOnly"));
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
    public NpgsqlCommand Command(NpgsqlConnection connection, string sql, DateTimeOffset? from, DateTimeOffset? to) => new(sql, connection)
    {
        Parameters =
        {
            Text(Item?.Value),
            Text(Serial is { } serial ? new UnitKey(Item!.Value, serial).ToString() : null),
            Text(Kind),
            Text(Step?.Value),
            new() { Value = DefectsOnly },
            Time(from),
            Time(to),
        },
    };

    private static NpgsqlParameter Text(string? text) => new() { Value = (object?)text ?? DBNull.Value, NpgsqlDbType = NpgsqlDbType.Text };

    private static NpgsqlParameter Time(DateTimeOffset? at) => new() { Value = (object?)at?.UtcDateTime ?? DBNull.Value, NpgsqlDbType = NpgsqlDbType.TimestampTz };
}
