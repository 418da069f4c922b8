using Microsoft.AspNetCore.Http.HttpResults;
using Npgsql;
using NpgsqlTypes;
using Traceability.Contracts;
using Traceability.Contracts.Findings;
using Traceability.Service.Http;
using Traceability.Service.Http.Querying;
using Traceability.Service.Storage;
using Traceability.Service.Storage.Answers;

namespace Traceability.Service.Features.Findings;

/// <summary>GET /api/findings.</summary>
internal static class GetFindingsEndpoint
{
    private const int LimitDefault = 100;
    private const int LimitMax = 1_000;

    // The order is the index on (at, unit), read backwards; the row id tells apart the few findings of one unit and moment.
    private const string First = $"select {FindingRows.Columns} from traceability.finding f where {FindingFilter.Sql} order by f.at desc, f.unit desc, f.row_id desc limit $8";

    private const string Next = $"select {FindingRows.Columns} from traceability.finding f where {FindingFilter.Sql} and (f.at, f.unit, f.row_id) < ($9, $10, $11) order by f.at desc, f.unit desc, f.row_id desc limit $8";

    /// <summary>The parameters, for the contract; <see cref="QueryReader"/> reads them.</summary>
    /// <param name="Item">Only units of this item.</param>
    /// <param name="Serial">Only this unit; together with item.</param>
    /// <param name="Kind">Only this kind of finding.</param>
    /// <param name="Step">Only findings on this step.</param>
    /// <param name="From">Only what happened at this time (RFC 3339 with offset) or later.</param>
    /// <param name="To">Only what happened before this time.</param>
    /// <param name="DefectsOnly">true: only findings that count as defects. Default: false.</param>
    /// <param name="Limit">The most findings of the page, 1 to 1000. Default: 100.</param>
    /// <param name="After">What the page before said as "after".</param>
    internal sealed record Query(
        string? Item, string? Serial, string? Kind, string? Step, string? From, string? To, string? DefectsOnly, string? Limit, string? After);

    public static async Task<Results<Ok<FindingPage>, ProblemHttpResult>> HandleAsync(
        [AsParameters] Query query, HttpRequest request, AnswerDatabase database, ItemCatalogue catalogue, TimeProvider clock, CancellationToken cancellation)
    {
        _ = query;
        var reader = new QueryReader(request.Query);
        var filter = FindingFilter.Read(reader);
        var from = reader.Time("from");
        var to = reader.Time("to");
        if (from >= to)
        {
            reader.Note("to", "is not after from.");
        }

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
        await using var command = filter.Command(connection, after is null ? First : Next, from, to);
        command.Parameters.Add(new() { Value = limit + 1 });
        if (after is not null)
        {
            command.Parameters.Add(new() { Value = after.At.UtcDateTime, NpgsqlDbType = NpgsqlDbType.TimestampTz });
            command.Parameters.Add(new() { Value = after.Unit });
            command.Parameters.Add(new() { Value = after.RowId });
        }

        return TypedResults.Ok(await ReadAsync(command, limit, asOf, completeness, cancellation));
    }

    private static async Task<FindingPage> ReadAsync(
        NpgsqlCommand command, int limit, DateTimeOffset asOf, Completeness completeness, CancellationToken cancellation)
    {
        List<Finding> findings = [];
        string? next = null;
        var last = 0L;
        await using var reader = await command.ExecuteReaderAsync(cancellation);
        while (await reader.ReadAsync(cancellation))
        {
            // One row more than asked for tells that there is a next page.
            if (findings.Count == limit)
            {
                next = new RowPlace(findings[^1].At, $"{findings[^1].Unit!.Item}/{findings[^1].Unit!.Serial}", last).ToString();
                break;
            }

            var (finding, row) = FindingRows.Read(reader);
            findings.Add(finding);
            last = row;
        }

        return new(asOf, findings, next, completeness);
    }
}
