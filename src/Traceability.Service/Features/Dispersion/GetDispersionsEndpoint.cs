using System.Globalization;
using Microsoft.AspNetCore.Http.HttpResults;
using Npgsql;
using NpgsqlTypes;
using Traceability.Contracts.Dispersion;
using Traceability.Domain.Primitives;
using Traceability.Service.Http;
using Traceability.Service.Http.Querying;
using Traceability.Service.Storage.Answers;

namespace Traceability.Service.Features.Dispersion;

/// <summary>GET /api/lots/dispersion.</summary>
internal static class GetDispersionsEndpoint
{
    private const int LimitDefault = 100;
    private const int LimitMax = 1_000;

    /// <summary>What reads a page, in the order of an index. Parameters: 1 to 2 times, 3 limit, 4 to 6 the place of the page before, 7 the item.</summary>
    internal static string Sql(bool isNext, bool isOfItem) =>
        $"""
        select item, lot, units, finished, shipped, shipments, consignees, used_from, used_to from traceability.lot_dispersion
        where ($1::timestamptz is null or used_to >= $1) and ($2::timestamptz is null or used_from < $2)
        {(isNext ? """and finished <= $4 and (finished < $4 or (item collate "C", lot collate "C") > ($5, $6))""" : string.Empty)}
        {(isOfItem ? $"and item = {(isNext ? "$7" : "$4")}" : string.Empty)}
        order by finished desc, {(isOfItem ? string.Empty : "item collate \"C\", ")}lot collate "C" limit $3
        """;

    /// <summary>The parameters, for the contract; <see cref="QueryReader"/> reads them.</summary>
    /// <param name="Item">Only lots of this item.</param>
    /// <param name="From">Only lots that were still used at this time (RFC 3339 with offset) or later; all their units count.</param>
    /// <param name="To">Only lots that were used before this time.</param>
    /// <param name="Limit">The most lots of the page, 1 to 1000. Default: 100.</param>
    /// <param name="After">What the page before said as "after".</param>
    internal sealed record Query(string? Item, string? From, string? To, string? Limit, string? After);

    public static async Task<Results<Ok<LotDispersions>, ProblemHttpResult>> HandleAsync(
        [AsParameters] Query query, HttpRequest request, AnswerDatabase database, CancellationToken cancellation)
    {
        _ = query;
        var reader = new QueryReader(request.Query);
        var item = reader.Code<ItemNumber>("item");
        var from = reader.Time("from");
        var to = reader.Time("to");
        if (from >= to)
        {
            reader.Note("to", "is not after from.");
        }

        var limit = reader.Integer("limit", 1, LimitMax, LimitDefault);
        var after = reader.Text("after", LotPlace.Parse, LotPlace.Form);
        if (reader.Finish() is { } refusal)
        {
            return refusal.ToProblem();
        }

        await using var session = await database.OpenAsync(cancellation);
        var (countedAt, isCurrent) = await DispersionRows.CountedAsync(session.Connection, cancellation);
        await using var command = new NpgsqlCommand(Sql(after is not null, item is not null), session.Connection)
        {
            Parameters = { Value(from?.UtcDateTime, NpgsqlDbType.TimestampTz), Value(to?.UtcDateTime, NpgsqlDbType.TimestampTz), Value(limit + 1, NpgsqlDbType.Integer) },
        };
        if (after is not null)
        {
            command.Parameters.Add(Value(after.Finished, NpgsqlDbType.Integer));
            command.Parameters.Add(Value(after.Item, NpgsqlDbType.Text));
            command.Parameters.Add(Value(after.Lot, NpgsqlDbType.Text));
        }

        if (item is { } only)
        {
            command.Parameters.Add(Value(only.Value, NpgsqlDbType.Text));
        }

        var lots = await DispersionRows.ReadAsync(command, Lot, cancellation);
        LotDispersion[] page = [.. lots.Take(limit)];
        var items = await DispersionRows.ItemsAsync(session.Connection, [.. page.Select(l => l.Item).Distinct(StringComparer.Ordinal)], cancellation);
        return TypedResults.Ok(new LotDispersions(
            countedAt,
            isCurrent,
            page,
            lots.Count > limit ? new LotPlace(page[^1].FinishedUnits, page[^1].Item, page[^1].Lot).ToString() : null,
            items,
            Remarks(countedAt, isCurrent)));
    }

    private static IReadOnlyList<string> Remarks(DateTimeOffset? countedAt, bool isCurrent) => (countedAt, isCurrent) switch
    {
        (null, _) => ["The lots were never counted yet: ask again in a while, or ask for one lot."],
        (_, true) => [],
        ({ } at, false) => [string.Create(
            CultureInfo.InvariantCulture,
            $"Something was recorded since the lots were counted at {at.UtcDateTime:yyyy-MM-dd HH:mm:ss'Z'}; one lot asked for by itself is counted at once.")],
    };

    private static LotDispersion Lot(NpgsqlDataReader r) => new(
        r.GetString(0), r.GetString(1), r.GetInt32(2), r.GetInt32(3), r.GetInt32(4), r.GetInt32(5), r.GetInt32(6),
        r.GetFieldValue<DateTimeOffset>(7), r.GetFieldValue<DateTimeOffset>(8));

    private static NpgsqlParameter Value(object? value, NpgsqlDbType type) => new() { Value = value ?? DBNull.Value, NpgsqlDbType = type };
}
