using Microsoft.AspNetCore.Http.HttpResults;
using Traceability.Contracts.Yield;
using Traceability.Service.Http;
using Traceability.Service.Http.Querying;
using Traceability.Service.Storage;

namespace Traceability.Service.Features.Yield;

/// <summary>GET /api/yield/units.</summary>
internal static class GetUnitYieldsEndpoint
{
    /// <summary>The parameters, for the contract; <see cref="QueryReader"/> reads them.</summary>
    /// <param name="Item">The item. Required.</param>
    /// <param name="From">The first day, such as 2026-03-01, in the calendar of the site that ended the unit. Default: 30 days up to the last.</param>
    /// <param name="To">The last day, included. Default: the latest day that any site is in.</param>
    /// <param name="By">What to tell apart, separated by commas: day, variant, revision. Default: nothing, the total only.</param>
    internal sealed record Query(string? Item, string? From, string? To, string? By);

    public static Task<Results<Ok<UnitYields>, ProblemHttpResult>> HandleAsync(
        [AsParameters] Query query, HttpRequest request, YieldAnswers answers, CancellationToken cancellation)
    {
        _ = query;
        var reader = new QueryReader(request.Query);
        var question = YieldQuestion.Read(reader) with { By = reader.Names("by", YieldSums.UnitColumns) ?? [] };
        return reader.Finish() is { } refusal
            ? Task.FromResult<Results<Ok<UnitYields>, ProblemHttpResult>>(refusal.ToProblem())
            : answers.AnswerAsync(question, scope => AnswerAsync(scope, cancellation), cancellation);
    }

    private static async Task<UnitYields> AnswerAsync(YieldScope scope, CancellationToken cancellation)
    {
        var sum = await YieldSums.UnitsAsync(scope, cancellation);
        return new(
            scope.Question.Item.Value,
            scope.From,
            scope.To,
            scope.Question.By,
            scope.AsOf,
            sum.Pending,
            YieldFigures.OfUnits(sum.Total),
            [.. sum.Cells.Select(c => new UnitYieldCell(c.Day, c.Variant, c.Revision, YieldFigures.OfUnits(c.Counts)))],
            await CompletenessReader.ReadAsync(scope.Connection, scope.Question.Item, cancellation));
    }
}
