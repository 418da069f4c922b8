using Microsoft.AspNetCore.Http.HttpResults;
using Traceability.Contracts.Yield;
using Traceability.Domain.Primitives;
using Traceability.Service.Http;
using Traceability.Service.Http.Querying;
using Traceability.Service.Storage;

namespace Traceability.Service.Features.Yield;

/// <summary>GET /api/yield/steps.</summary>
internal static class GetStepYieldsEndpoint
{
    /// <summary>The parameters, for the contract; <see cref="QueryReader"/> reads them.</summary>
    /// <param name="Item">The item. Required.</param>
    /// <param name="From">The first day, such as 2026-03-01, in the calendar of the station's site. Default: 30 days up to the last.</param>
    /// <param name="To">The last day, included. Default: the latest day that any site is in.</param>
    /// <param name="By">What to tell apart, separated by commas: day, station, variant, step, revision. Default: step.</param>
    /// <param name="Step">Only this step.</param>
    /// <param name="Station">Only this station.</param>
    /// <param name="Variant">Only this variant.</param>
    internal sealed record Query(string? Item, string? From, string? To, string? By, string? Step, string? Station, string? Variant);

    public static Task<Results<Ok<StepYields>, ProblemHttpResult>> HandleAsync(
        [AsParameters] Query query, HttpRequest request, YieldAnswers answers, CancellationToken cancellation)
    {
        _ = query;
        var reader = new QueryReader(request.Query);
        var question = YieldQuestion.Read(reader) with
        {
            By = reader.Names("by", YieldSums.StepColumns) ?? ["step"],
            Step = reader.Code<StepCode>("step"),
            Station = reader.Code<StationCode>("station"),
            Variant = reader.Code<VariantCode>("variant"),
        };
        return reader.Finish() is { } refusal
            ? Task.FromResult<Results<Ok<StepYields>, ProblemHttpResult>>(refusal.ToProblem())
            : answers.AnswerAsync(question, scope => AnswerAsync(scope, cancellation), cancellation);
    }

    private static async Task<StepYields> AnswerAsync(YieldScope scope, CancellationToken cancellation)
    {
        var sum = await YieldSums.StepsAsync(scope, cancellation);
        return new(
            scope.Question.Item.Value,
            scope.From,
            scope.To,
            scope.Question.By,
            scope.AsOf,
            sum.Pending,
            YieldFigures.OfSteps(sum.Total),
            [.. sum.Cells.Select(c => new StepYieldCell(c.Day, c.Station, c.Variant, c.Step, c.Revision, YieldFigures.OfSteps(c.Counts)))],
            await CompletenessReader.ReadAsync(scope.Connection, scope.Question.Item, cancellation));
    }
}
