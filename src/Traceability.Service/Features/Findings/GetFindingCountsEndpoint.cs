using Microsoft.AspNetCore.Http.HttpResults;
using Npgsql;
using Traceability.Contracts;
using Traceability.Contracts.Findings;
using Traceability.Domain.Yield;
using Traceability.Service.Http;
using Traceability.Service.Http.Querying;
using Traceability.Service.Storage;
using Traceability.Service.Storage.Answers;

namespace Traceability.Service.Features.Findings;

/// <summary>GET /api/findings/counts.</summary>
internal static class GetFindingCountsEndpoint
{
    // A report says in its evidence how often the defect was seen: "count", and "count-2" and so on where one record has
    // several reports of the same code.
    private const string Sql =
        $"""
        with chosen as materialized (select f.unit, f.kind, f.rule, f.is_defect, f.evidence from traceability.finding f where {FindingFilter.Sql})
        select 'kind', kind, count(*), count(*) filter (where is_defect), count(distinct unit), count(distinct unit) filter (where is_defect)
        from chosen group by kind
        union all
        select 'code', rule,
          sum(coalesce((select sum(e.value::bigint) from jsonb_each_text(c.evidence) e where e.key ~ '^count(-[0-9]+)?$' and e.value ~ '^[0-9]+$'), 1))::bigint,
          0, count(distinct unit), 0
        from chosen c where kind = 'defect-reported' group by rule
        """;

    /// <summary>The parameters, for the contract; <see cref="QueryReader"/> reads them.</summary>
    /// <param name="Item">Only units of this item.</param>
    /// <param name="Serial">Only this unit; together with item.</param>
    /// <param name="Kind">Only this kind of finding.</param>
    /// <param name="Step">Only findings on this step.</param>
    /// <param name="From">Begin of the period (RFC 3339 with offset), included. Default: 30 days before its end.</param>
    /// <param name="To">End of the period, excluded. Default: the moment of asking.</param>
    /// <param name="DefectsOnly">true: only findings that count as defects. Default: false.</param>
    internal sealed record Query(string? Item, string? Serial, string? Kind, string? Step, string? From, string? To, string? DefectsOnly);

    public static async Task<Results<Ok<FindingCounts>, ProblemHttpResult>> HandleAsync(
        [AsParameters] Query query, HttpRequest request, AnswerDatabase database, ItemCatalogue catalogue, TimeProvider clock, CancellationToken cancellation)
    {
        _ = query;
        var now = clock.GetUtcNow();
        var reader = new QueryReader(request.Query);
        var filter = FindingFilter.Read(reader);
        var period = TimePeriod.Read(reader, now);
        if (reader.Finish() is { } refusal)
        {
            return refusal.ToProblem();
        }

        await using var session = await database.OpenAsync(cancellation);
        var connection = session.Connection;
        if (await filter.FindUnknownAsync(connection, catalogue, cancellation) is { } unknown)
        {
            return unknown.ToProblem();
        }

        var completeness = await CompletenessReader.ReadAsync(connection, filter.Item, cancellation);
        await using var command = filter.Command(connection, Sql, period.From, period.To);
        return TypedResults.Ok(await ReadAsync(command, period, now, completeness, cancellation));
    }

    private static async Task<FindingCounts> ReadAsync(
        NpgsqlCommand command, TimePeriod period, DateTimeOffset now, Completeness completeness, CancellationToken cancellation)
    {
        List<FindingCount> kinds = [];
        List<(string Code, long Count, long Units)> defects = [];
        List<(string Code, long Count, long Units)> codes = [];
        await using var reader = await command.ExecuteReaderAsync(cancellation);
        while (await reader.ReadAsync(cancellation))
        {
            var (name, count, units) = (reader.GetString(1), reader.GetInt64(2), reader.GetInt64(4));
            if (string.Equals(reader.GetString(0), "code", StringComparison.Ordinal))
            {
                codes.Add((name, count, units));
                continue;
            }

            kinds.Add(new(name, count, reader.GetInt64(3), units));
            if (reader.GetInt64(3) > 0)
            {
                defects.Add((name, reader.GetInt64(3), reader.GetInt64(5)));
            }
        }

        return new(
            period.From,
            period.To,
            now,
            kinds.Sum(k => k.Findings),
            [.. kinds.OrderByDescending(k => k.Findings).ThenBy(k => k.Kind, StringComparer.Ordinal)],
            Pareto(defects),
            Pareto(codes),
            completeness);
    }

    private static List<ParetoEntry> Pareto(List<(string Code, long Count, long Units)> counts)
    {
        var total = counts.Sum(c => c.Count);
        var before = 0L;
        return [.. counts.OrderByDescending(c => c.Count).ThenBy(c => c.Code, StringComparer.Ordinal)
            .Select(c => new ParetoEntry(c.Code, c.Count, before += c.Count, c.Units, new Proportion(c.Count, total).ToShare()))];
    }
}
