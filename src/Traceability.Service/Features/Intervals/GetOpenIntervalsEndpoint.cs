using Microsoft.AspNetCore.Http.HttpResults;
using Traceability.Contracts.Intervals;
using Traceability.Domain.Primitives;
using Traceability.Service.Http;
using Traceability.Service.Http.Querying;
using Traceability.Service.Storage;
using Traceability.Service.Storage.Answers;

namespace Traceability.Service.Features.Intervals;

/// <summary>GET /api/intervals/open.</summary>
internal static class GetOpenIntervalsEndpoint
{
    private const int LimitDefault = 1_000;
    private const int LimitMax = 10_000;

    /// <summary>The parameters, for the contract; <see cref="QueryReader"/> reads them.</summary>
    /// <param name="Item">Only units of this item. Default: of all.</param>
    /// <param name="Station">Only intervals whose first step was completed last at this station. Default: at any.</param>
    /// <param name="Limit">The most intervals to list, 1 to 10000. Default: 1000. The counts hold all.</param>
    internal sealed record Query(string? Item, string? Station, string? Limit);

    public static async Task<Results<Ok<OpenIntervals>, ProblemHttpResult>> HandleAsync(
        [AsParameters] Query query, HttpRequest request, AnswerDatabase database, ItemCatalogue catalogue, TimeProvider clock, CancellationToken cancellation)
    {
        _ = query;
        var reader = new QueryReader(request.Query);
        var item = reader.Code<ItemNumber>("item");
        var station = reader.Code<StationCode>("station");
        var limit = reader.Integer("limit", 1, LimitMax, LimitDefault);
        if (reader.Finish() is { } refusal)
        {
            return refusal.ToProblem();
        }

        var now = clock.GetUtcNow();
        await using var session = await database.OpenAsync(cancellation);
        var connection = session.Connection;
        if (item is { } number && await catalogue.FindAsync(connection, number, cancellation) is null)
        {
            return ItemCatalogue.Unknown(number).ToProblem();
        }

        if (station is { } code && !await catalogue.HasAsync(connection, code, cancellation))
        {
            return ItemCatalogue.Unknown(code).ToProblem();
        }

        var open = await OpenIntervalReader.ReadAsync(connection, item, station, onlyPastMaximum: false, now, cancellation);
        var completeness = await CompletenessReader.ReadAsync(connection, item, cancellation);
        return TypedResults.Ok(new OpenIntervals(now, CountsOf(open), open.Count > limit, [.. open.Take(limit).Select(o => o.Interval)], completeness));
    }

    private static IntervalCounts CountsOf(List<JudgedInterval> open)
    {
        var counts = open.CountBy(o => o.Interval.State).ToDictionary();
        return new(
            counts.GetValueOrDefault(IntervalState.Overdue),
            counts.GetValueOrDefault(IntervalState.Undetermined),
            counts.GetValueOrDefault(IntervalState.Ready),
            counts.GetValueOrDefault(IntervalState.NotReady),
            open.Count);
    }
}
