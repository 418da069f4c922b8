using Microsoft.AspNetCore.Http.HttpResults;
using Npgsql;
using NpgsqlTypes;
using Traceability.Contracts.Intervals;
using Traceability.Domain.Judging;
using Traceability.Domain.Primitives;
using Traceability.Service.Http;
using Traceability.Service.Http.Querying;
using Traceability.Service.Storage;
using Traceability.Service.Storage.Answers;

namespace Traceability.Service.Features.Intervals;

/// <summary>GET /api/intervals/violations.</summary>
internal static class GetIntervalViolationsEndpoint
{
    private const int LimitDefault = 1_000;
    private const int LimitMax = 10_000;

    private const string Where = "from traceability.finding f where f.kind = any($1) and f.at >= $2 and f.at < $3 and ($4::text is null or f.item = $4)";

    private static readonly string[] Kinds =
        [FindingKinds.IntervalTooShort, FindingKinds.IntervalTooLong, FindingKinds.IntervalUndetermined, FindingKinds.IntervalStartNotRecorded];

    /// <summary>The parameters, for the contract; <see cref="QueryReader"/> reads them.</summary>
    /// <param name="From">Begin of the period (RFC 3339 with offset), included. Default: 30 days before its end.</param>
    /// <param name="To">End of the period, excluded. Default: the moment of asking.</param>
    /// <param name="Item">Only units of this item. Default: of all.</param>
    /// <param name="Limit">The most past violations to list, 1 to 10000. Default: 1000. The counts hold all; /api/findings pages through them.</param>
    internal sealed record Query(string? From, string? To, string? Item, string? Limit);

    public static async Task<Results<Ok<IntervalViolations>, ProblemHttpResult>> HandleAsync(
        [AsParameters] Query query, HttpRequest request, AnswerDatabase database, ItemCatalogue catalogue, TimeProvider clock, CancellationToken cancellation)
    {
        _ = query;
        var now = clock.GetUtcNow();
        var reader = new QueryReader(request.Query);
        var period = TimePeriod.Read(reader, now);
        var item = reader.Code<ItemNumber>("item");
        var limit = reader.Integer("limit", 1, LimitMax, LimitDefault);
        if (reader.Finish() is { } refusal)
        {
            return refusal.ToProblem();
        }

        await using var session = await database.OpenAsync(cancellation);
        var connection = session.Connection;
        if (item is { } number && await catalogue.FindAsync(connection, number, cancellation) is null)
        {
            return ItemCatalogue.Unknown(number).ToProblem();
        }

        var counts = await CountAsync(connection, period, item, cancellation);
        var past = await ListAsync(connection, period, item, limit, cancellation);
        var open = await OpenIntervalReader.ReadAsync(connection, item, station: null, onlyPastMaximum: true, now, cancellation);
        return TypedResults.Ok(new IntervalViolations(
            period.From,
            period.To,
            now,
            new(
                counts.GetValueOrDefault(FindingKinds.IntervalTooShort),
                counts.GetValueOrDefault(FindingKinds.IntervalTooLong),
                counts.GetValueOrDefault(FindingKinds.IntervalUndetermined),
                counts.GetValueOrDefault(FindingKinds.IntervalStartNotRecorded),
                open.Count),
            past.Count < counts.Values.Sum(),
            past,
            [.. open.Select(o => o.Interval)],
            await CompletenessReader.ReadAsync(connection, item, cancellation)));
    }

    private static async Task<Dictionary<string, long>> CountAsync(
        NpgsqlConnection connection, TimePeriod period, ItemNumber? item, CancellationToken cancellation)
    {
        var counts = new Dictionary<string, long>(StringComparer.Ordinal);
        await using var command = Command(connection, $"select f.kind, count(*) {Where} group by f.kind", period, item);
        await using var reader = await command.ExecuteReaderAsync(cancellation);
        while (await reader.ReadAsync(cancellation))
        {
            counts[reader.GetString(0)] = reader.GetInt64(1);
        }

        return counts;
    }

    private static async Task<List<Contracts.Finding>> ListAsync(
        NpgsqlConnection connection, TimePeriod period, ItemNumber? item, int limit, CancellationToken cancellation)
    {
        List<Contracts.Finding> found = [];
        await using var command = Command(
            connection, $"select {FindingRows.Columns} {Where} order by f.at desc, f.unit desc, f.row_id desc limit $5", period, item);
        command.Parameters.Add(new() { Value = limit });
        await using var reader = await command.ExecuteReaderAsync(cancellation);
        while (await reader.ReadAsync(cancellation))
        {
            found.Add(FindingRows.Read(reader).Finding);
        }

        return found;
    }

    private static NpgsqlCommand Command(NpgsqlConnection connection, string sql, TimePeriod period, ItemNumber? item) => new(sql, connection)
    {
        Parameters =
        {
            new() { Value = Kinds },
            new() { Value = period.From.UtcDateTime, NpgsqlDbType = NpgsqlDbType.TimestampTz },
            new() { Value = period.To.UtcDateTime, NpgsqlDbType = NpgsqlDbType.TimestampTz },
            new() { Value = (object?)item?.Value ?? DBNull.Value, NpgsqlDbType = NpgsqlDbType.Text },
        },
    };
}
