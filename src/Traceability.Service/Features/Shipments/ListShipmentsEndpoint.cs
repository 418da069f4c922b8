using System.Buffers.Text;
using System.Globalization;
using System.Text;
using Microsoft.AspNetCore.Http.HttpResults;
using Npgsql;
using NpgsqlTypes;
using Traceability.Contracts.Facts;
using Traceability.Contracts.Shipments;
using Traceability.Domain.Primitives;
using Traceability.Service.Http;
using Traceability.Service.Http.Querying;
using Traceability.Service.Storage;
using Traceability.Service.Storage.Answers;

namespace Traceability.Service.Features.Shipments;

/// <summary>GET /api/shipments: what left to whom, under which order.</summary>
internal static class ListShipmentsEndpoint
{
    private const int LimitDefault = 100;
    private const int LimitMax = 1_000;

    // Units that were corrected to another consignee are listed with that one.
    private const string Sql =
        """
        select shipment, consignee, order_reference, max(at) as at, key, array_agg(unit order by unit, at), array_agg(record order by unit, at), array_agg(at order by unit, at),
          array_agg(coalesce(returned_at, 'infinity') order by unit, at)
        from (select *, coalesce(shipment, record::text) as key from traceability.shipment
            where ($1::text is null or consignee = $1) and ($2::text is null or order_reference = $2)
              and ($3::timestamptz is null or at >= $3) and ($4::timestamptz is null or at < $4)) s
        group by shipment, key, consignee, order_reference
        having $5::timestamptz is null or (max(at), key, consignee, coalesce(order_reference, '')) < ($5, $6, $7, $8)
        order by max(at) desc, key desc, consignee desc, coalesce(order_reference, '') desc limit $9
        """;

    /// <summary>The parameters, for the contract; <see cref="QueryReader"/> reads them.</summary>
    /// <param name="Consignee">Only to this consignee, as it was recorded. One of consignee and order must be given.</param>
    /// <param name="Order">Only under this order reference.</param>
    /// <param name="From">Only units that left at this time (RFC 3339 with offset) or later.</param>
    /// <param name="To">Only units that left before this time.</param>
    /// <param name="Limit">The most shipments of the page, 1 to 1000. Default: 100.</param>
    /// <param name="After">What the page before said as "after".</param>
    internal sealed record Query(string? Consignee, string? Order, string? From, string? To, string? Limit, string? After);

    private sealed record Place(DateTimeOffset At, string Key, string Consignee, string Order)
    {
        public static Place? Parse(string text) =>
            Base64Url.IsValid(text)
            && Encoding.UTF8.GetString(Base64Url.DecodeFromChars(text)).Split('\n') is [var at, var key, var consignee, var order]
            && !order.Contains('\0', StringComparison.Ordinal) && !consignee.Contains('\0', StringComparison.Ordinal) && Guid.TryParse(key, out var id)
            && long.TryParse(at, NumberStyles.None, CultureInfo.InvariantCulture, out var ticks) && ticks <= DateTimeOffset.MaxValue.UtcTicks
                ? new(new(ticks, TimeSpan.Zero), id.ToString(), consignee, order)
                : null;

        public override string ToString() =>
            Base64Url.EncodeToString(Encoding.UTF8.GetBytes(string.Create(CultureInfo.InvariantCulture, $"{At.UtcTicks}\n{Key}\n{Consignee}\n{Order}")));
    }

    public static void Map(IEndpointRouteBuilder api) =>
        api.MapGet("/shipments", HandleAsync)
            .RequireAuthorization(Security.Policies.Read)
            .WithName("listShipments")
            .WithTags("Shipments")
            .WithSummary("Lists what left to a consignee or under an order, newest first, with every unit, when it left and whether it came back")
            .Produces<ShipmentPage>()
            .ProducesProblem(StatusCodes.Status400BadRequest);

    private static async Task<Results<Ok<ShipmentPage>, ProblemHttpResult>> HandleAsync(
        [AsParameters] Query query, HttpRequest request, AnswerDatabase database, TimeProvider clock, CancellationToken cancellation)
    {
        _ = query;
        var reader = new QueryReader(request.Query);
        var consignee = reader.Text("consignee", Given, "Give the consignee as it was recorded.");
        var order = reader.Text("order", Given, "Give the order reference as it was recorded.");
        var from = reader.Time("from");
        var to = reader.Time("to");
        var limit = reader.Integer("limit", 1, LimitMax, LimitDefault);
        var after = reader.Text("after", Place.Parse, RowPlace.Form);
        if (reader.Finish() is { } refusal)
        {
            return refusal.ToProblem();
        }

        if (consignee is null && order is null)
        {
            return Refusal.At(QueryReader.Invalid, RefusalKind.Malformed, "consignee", "Give the consignee, the order, or both.").ToProblem();
        }

        var asOf = clock.GetUtcNow();
        await using var session = await database.OpenAsync(cancellation);
        var completeness = await CompletenessReader.ReadAsync(session.Connection, null, cancellation);
        await using var command = new NpgsqlCommand(Sql, session.Connection);
        AddText(consignee);
        AddText(order);
        AddTime(from);
        AddTime(to);
        AddTime(after?.At);
        AddText(after?.Key);
        AddText(after?.Consignee);
        AddText(after?.Order);
        command.Parameters.Add(new() { Value = limit + 1, NpgsqlDbType = NpgsqlDbType.Integer });
        List<ShipmentView> found = [];
        string? next = null;
        Place? last = null;
        await using var rows = await command.ExecuteReaderAsync(cancellation);
        while (await rows.ReadAsync(cancellation))
        {
            // One more than asked for tells that there is a next page.
            if (found.Count == limit)
            {
                next = last!.ToString();
                break;
            }

            found.Add(Read(rows));
            last = new(found[^1].At, rows.GetString(4), found[^1].Consignee, found[^1].OrderReference ?? string.Empty);
        }

        return TypedResults.Ok(new ShipmentPage(asOf, found, next, completeness));

        void AddText(string? text) => command.Parameters.Add(new() { Value = (object?)text ?? DBNull.Value, NpgsqlDbType = NpgsqlDbType.Text });

        void AddTime(DateTimeOffset? at) => command.Parameters.Add(new() { Value = (object?)at?.UtcDateTime ?? DBNull.Value, NpgsqlDbType = NpgsqlDbType.TimestampTz });
    }

    private static string? Given(string text) => string.IsNullOrWhiteSpace(text) ? null : text;

    private static ShipmentView Read(NpgsqlDataReader reader)
    {
        var units = reader.GetFieldValue<string[]>(5);
        var records = reader.GetFieldValue<Guid[]>(6);
        var times = reader.GetFieldValue<DateTime[]>(7);
        var returns = reader.GetFieldValue<DateTime[]>(8);
        return new(
            reader.IsDBNull(0) ? null : Guid.Parse(reader.GetString(0), CultureInfo.InvariantCulture),
            reader.GetString(1),
            reader.IsDBNull(2) ? null : reader.GetString(2),
            reader.GetFieldValue<DateTimeOffset>(3),
            [.. units.Select((u, i) => new ShippedUnitView(
                new UnitRef { Item = u.Split('/')[0], Serial = u.Split('/')[1] },
                records[i],
                new DateTimeOffset(times[i]),
                returns[i] == DateTime.MaxValue ? null : new DateTimeOffset(returns[i])))]);
    }
}
