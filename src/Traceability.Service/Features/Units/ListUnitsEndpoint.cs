using Microsoft.AspNetCore.Http.HttpResults;
using Npgsql;
using Traceability.Contracts.Units;
using Traceability.Domain.Primitives;
using Traceability.Service.Http;
using Traceability.Service.Security;
using Traceability.Service.Storage;
using Traceability.Service.Storage.Answers;

namespace Traceability.Service.Features.Units;

/// <summary>GET /api/units: the units of an item.</summary>
internal static class ListUnitsEndpoint
{
    private const int Default = 100;
    private const int Most = 1_000;
    private static readonly ImmutableArray<string> Places = ["in-process", "on-hold", "in-stock", "shipped", "returned", "scrapped"];

    public static void Map(IEndpointRouteBuilder api) =>
        api.MapGet("/units", HandleAsync)
            .RequireAuthorization(Policies.Read)
            .WithName("listUnits")
            .WithTags("Units")
            .WithSummary("Lists the units of an item, by serial number")
            .Produces<UnitPage>()
            .ProducesProblem(StatusCodes.Status400BadRequest);

    private static async Task<Results<Ok<UnitPage>, ProblemHttpResult>> HandleAsync(
        string? item, string? place, string? limit, string? after, AnswerDatabase database, CancellationToken cancellation)
    {
        var faults = new List<Fault>();
        if (!Codes.TryParse<ItemNumber>(item, out var of))
        {
            faults.Add(new("item", $"Say of which item. {Codes.Form<ItemNumber>()}"));
        }

        if (place is not null && !Places.Contains(place, StringComparer.Ordinal))
        {
            faults.Add(new("place", $"'{place}' is not one of {string.Join(", ", Places)}."));
        }

        if (after is not null && !Codes.TryParse<SerialNumber>(after, out _))
        {
            faults.Add(new("after", Codes.Form<SerialNumber>()));
        }

        var count = Default;
        if (limit is not null && (!int.TryParse(limit, System.Globalization.CultureInfo.InvariantCulture, out count) || count is < 1 or > Most))
        {
            faults.Add(new("limit", $"A whole number from 1 to {Most} is expected."));
        }

        return faults.Count > 0
            ? new Refusal("query-invalid", RefusalKind.Malformed, "The query can't be read. Every fault is listed.", [.. faults]).ToProblem()
            : TypedResults.Ok(await PageAsync(database, of, place, after ?? string.Empty, count, cancellation));
    }

    private static async Task<UnitPage> PageAsync(
        AnswerDatabase database, ItemNumber item, string? place, string after, int limit, CancellationToken cancellation)
    {
        await using var session = await database.OpenAsync(cancellation);
        var connection = session.Connection;
        var completeness = await CompletenessReader.ReadAsync(connection, item, cancellation);
        await using var command = new NpgsqlCommand(
            """
            select item, serial, variant, revision, opened_at, place, step, since, consignee, ended_at, has_unreadable, holds
            from traceability.unit where item = $1 and ($2::text is null or place = $2) and serial > $3 collate "C"
            order by serial collate "C" limit $4
            """,
            connection);
        command.Parameters.Add(new() { Value = item.Value });
        command.Parameters.Add(new() { Value = (object?)place ?? DBNull.Value, NpgsqlDbType = NpgsqlTypes.NpgsqlDbType.Text });
        command.Parameters.Add(new() { Value = after });
        command.Parameters.Add(new() { Value = limit + 1 });
        await using var reader = await command.ExecuteReaderAsync(cancellation);
        var units = new List<UnitSummary>();
        while (await reader.ReadAsync(cancellation))
        {
            units.Add(new(
                reader.GetString(0),
                reader.GetString(1),
                Text(2),
                Text(3),
                Time(4),
                reader.GetString(5),
                Text(6),
                Time(7),
                Text(8),
                Time(9),
                reader.GetBoolean(10))
            {
                Holds = Text(11)?.Split(' ') ?? [],
            });
        }

        return units.Count > limit ? new(units[..limit], units[limit - 1].Serial, completeness) : new(units, null, completeness);

        string? Text(int column) => reader.IsDBNull(column) ? null : reader.GetString(column);

        DateTimeOffset? Time(int column) => reader.IsDBNull(column) ? null : reader.GetFieldValue<DateTimeOffset>(column);
    }
}
