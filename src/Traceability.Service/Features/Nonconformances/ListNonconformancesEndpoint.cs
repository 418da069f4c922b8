using Microsoft.AspNetCore.Http.HttpResults;
using Npgsql;
using NpgsqlTypes;
using Traceability.Contracts;
using Traceability.Contracts.Nonconformances;
using Traceability.Service.Http;
using Traceability.Service.Http.Querying;
using Traceability.Service.Storage;
using Traceability.Service.Storage.Answers;

namespace Traceability.Service.Features.Nonconformances;

/// <summary>GET /api/nonconformances.</summary>
internal static class ListNonconformancesEndpoint
{
    private const int LimitDefault = 100;
    private const int LimitMax = 1_000;

    /// <summary>The parameters, for the contract; <see cref="QueryReader"/> reads them.</summary>
    /// <param name="Item">Only units of this item.</param>
    /// <param name="Serial">Only this unit; together with item.</param>
    /// <param name="State">Only these states, separated by commas.</param>
    /// <param name="OpenOnly">true: only those that keep their unit from being released. Default: false.</param>
    /// <param name="Step">Only on this step.</param>
    /// <param name="Defect">Only reports of this defect code.</param>
    /// <param name="Concession">Only those that this concession covers.</param>
    /// <param name="From">Only what happened at this time (RFC 3339 with offset) or later.</param>
    /// <param name="To">Only what happened before this time.</param>
    /// <param name="Limit">The most nonconformances of the page, 1 to 1000. Default: 100.</param>
    /// <param name="After">What the page before said as "after".</param>
    internal sealed record Query(
        string? Item, string? Serial, string? State, string? OpenOnly, string? Step, string? Defect, string? Concession, string? From, string? To, string? Limit, string? After);

    public static async Task<Results<Ok<NonconformancePage>, ProblemHttpResult>> HandleAsync(
        [AsParameters] Query query, HttpRequest request, AnswerDatabase database, ItemCatalogue catalogue, TimeProvider clock, CancellationToken cancellation)
    {
        _ = query;
        var reader = new QueryReader(request.Query);
        var filter = NonconformanceFilter.Read(reader);
        var limit = reader.Integer("limit", 1, LimitMax, LimitDefault);
        var after = reader.Text("after", RowPlace.Parse, RowPlace.Form);
        if (reader.Finish() is { } refusal)
        {
            return refusal.ToProblem();
        }

        var asOf = clock.GetUtcNow();
        await using var session = await database.OpenAsync(cancellation);
        var connection = session.Connection;
        if (await filter.FindUnknownAsync(connection, catalogue, cancellation) is { } unknown)
        {
            return unknown.ToProblem();
        }

        var completeness = await CompletenessReader.ReadAsync(connection, filter.Item, cancellation);
        await using var command = filter.Command(connection, Sql(filter, after));
        command.Parameters.Add(new() { Value = limit + 1 });
        if (after is not null)
        {
            command.Parameters.Add(new() { Value = after.At.UtcDateTime, NpgsqlDbType = NpgsqlDbType.TimestampTz });
            command.Parameters.Add(new() { Value = after.Unit });
            command.Parameters.Add(new() { Value = after.RowId });
        }

        return TypedResults.Ok(await ReadAsync(command, limit, asOf, completeness, cancellation));
    }

    // The order is the index on (at, unit), read backwards; the row id tells apart those of one unit and moment.
    private static string Sql(NonconformanceFilter filter, RowPlace? after) =>
        $"""
        select {NonconformanceViews.Columns} from traceability.nonconformance n where {filter.Sql}
        {(after is null ? string.Empty : "and (n.at, n.unit, n.row_id) < ($10, $11, $12)")}
        order by n.at desc, n.unit desc, n.row_id desc limit $9
        """;

    private static async Task<NonconformancePage> ReadAsync(
        NpgsqlCommand command, int limit, DateTimeOffset asOf, Completeness completeness, CancellationToken cancellation)
    {
        List<Nonconformance> found = [];
        string? next = null;
        var last = 0L;
        await using var reader = await command.ExecuteReaderAsync(cancellation);
        while (await reader.ReadAsync(cancellation))
        {
            // One row more than asked for tells that there is a next page.
            if (found.Count == limit)
            {
                next = new RowPlace(found[^1].At, $"{found[^1].Unit.Item}/{found[^1].Unit.Serial}", last).ToString();
                break;
            }

            (var nonconformance, last) = NonconformanceViews.Read(reader);
            found.Add(nonconformance);
        }

        return new(asOf, found, next, completeness);
    }
}
