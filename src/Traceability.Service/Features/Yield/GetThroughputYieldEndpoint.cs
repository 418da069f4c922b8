using Microsoft.AspNetCore.Http.HttpResults;
using Traceability.Contracts.Yield;
using Traceability.Domain.Primitives;
using Traceability.Domain.Routings;
using Traceability.Domain.Yield;
using Traceability.Service.Http;
using Traceability.Service.Http.Querying;
using Traceability.Service.Storage;

namespace Traceability.Service.Features.Yield;

/// <summary>GET /api/yield/throughput.</summary>
internal static class GetThroughputYieldEndpoint
{
    /// <summary>The parameters, for the contract; <see cref="QueryReader"/> reads them.</summary>
    /// <param name="Item">The item. Required.</param>
    /// <param name="From">The first day, such as 2026-03-01, in the calendar of the station's site. Default: 30 days up to the last.</param>
    /// <param name="To">The last day, included. Default: the latest day that any site is in.</param>
    /// <param name="Variant">Only units of this variant, and only the steps that it has.</param>
    /// <param name="Revision">The steps of this released revision, and only what was judged by it. Default: the steps of the one released last, over what was judged by any.</param>
    internal sealed record Query(string? Item, string? From, string? To, string? Variant, string? Revision);

    public static Task<Results<Ok<ThroughputYield>, ProblemHttpResult>> HandleAsync(
        [AsParameters] Query query, HttpRequest request, YieldAnswers answers, CancellationToken cancellation)
    {
        _ = query;
        var reader = new QueryReader(request.Query);
        var question = YieldQuestion.Read(reader) with
        {
            By = ["step"],
            Variant = reader.Code<VariantCode>("variant"),
            Revision = reader.Code<RevisionCode>("revision"),
        };
        return reader.Finish() is { } refusal
            ? Task.FromResult<Results<Ok<ThroughputYield>, ProblemHttpResult>>(refusal.ToProblem())
            : answers.AnswerAsync(question, scope => AnswerAsync(scope, cancellation), cancellation);
    }

    private static async Task<ThroughputYield> AnswerAsync(YieldScope scope, CancellationToken cancellation)
    {
        var q = scope.Question;
        var routing = scope.Entry.Routing;
        var revision = q.Revision is { } asked ? routing?.FindReleased(asked) : routing?.Released.LastOrDefault();
        var sum = await YieldSums.StepsAsync(scope, cancellation);
        var counts = sum.Cells.ToDictionary(c => c.Step ?? string.Empty, c => c.Counts, StringComparer.Ordinal);
        ImmutableArray<Step> steps = [.. (revision?.Steps ?? []).Where(s => q.Variant is not { } v || s.AppliesTo.Variants.IsEmpty || s.AppliesTo.Variants.Contains(v))];
        var rolled = RolledThroughputYield.Of(steps.Select(s => counts.GetValueOrDefault(s.Code.Value).FirstPassYield));
        return new(
            q.Item.Value,
            q.Variant?.Value,
            revision?.Revision.Value,
            q.Revision is null,
            scope.From,
            scope.To,
            scope.AsOf,
            sum.Pending,
            new(rolled.Estimate, rolled.Interval?.Lower, rolled.Interval?.Upper),
            [.. steps.Zip(rolled.Steps, (s, p) => new ThroughputStep(s.Code.Value, s.Name, IsConditional(s.AppliesTo, q.Variant), p.ToShare()))],
            [.. steps.Zip(rolled.Steps).Where(s => !s.Second.IsDefined).Select(s => s.First.Code.Value)],
            await CompletenessReader.ReadAsync(scope.Connection, scope.Question.Item, cancellation));
    }

    private static bool IsConditional(Effectivity appliesTo, VariantCode? variant) =>
        (variant is null && !appliesTo.Variants.IsEmpty)
        || !appliesTo.Options.IsEmpty
        || appliesTo is not { SerialFrom: null, SerialTo: null, OpenedFrom: null, OpenedBefore: null };
}
