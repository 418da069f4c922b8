using Microsoft.AspNetCore.Http.HttpResults;
using Traceability.Contracts.Scope;
using Traceability.Service.Http;
using Traceability.Service.Http.Querying;
using Traceability.Service.Security;

namespace Traceability.Service.Features.Scope;

/// <summary>POST /api/scopes.</summary>
internal static class AskScopeEndpoint
{
    /// <summary>The parameters, for the contract; <see cref="QueryReader"/> reads them.</summary>
    /// <param name="Limit">The most members of the page, and the most cleared units, 1 to 1000. Default: 100.</param>
    /// <param name="After">What the page before said as "after": a unit as item/serial.</param>
    /// <param name="Include">cleared: also list units that a record clears, where they are counted: for whole lots and containers, one or several with "or".</param>
    /// <param name="ClearedAfter">What the page before said as "clearedAfter".</param>
    internal sealed record Query(string? Limit, string? After, string? Include, string? ClearedAfter);

    public static void Map(IEndpointRouteBuilder api) =>
        api.MapPost("/scopes", HandleAsync)
            .RequireAuthorization(Policies.Read)
            .WithTags("Scope")
            .WithName("askScope")
            .WithSummary("Which units a suspect reaches or may have reached, with evidence and present place")
            .WithDescription(
                "Records nothing. The suspect is a lot, a container, a supplier's lot, a component, a tool, work, a measured condition, an interval, "
                + "or a combination of them with and, or, except. It says what was recorded; missing evidence never clears.")
            .Accepts<ScopeQuestion>("application/json")
            .Produces<ScopeQuestionAnswer>()
            .ProducesProblem(StatusCodes.Status400BadRequest)
            .ProducesProblem(StatusCodes.Status404NotFound)
            .ProducesProblem(StatusCodes.Status413PayloadTooLarge)
            .ProducesProblem(StatusCodes.Status415UnsupportedMediaType);

    private static async Task<Results<Ok<ScopeQuestionAnswer>, ProblemHttpResult>> HandleAsync(
        [AsParameters] Query query, HttpRequest request, ScopeAnswerer answerer, CancellationToken cancellation)
    {
        _ = query;
        var reader = new QueryReader(request.Query);
        var page = ScopePageRequest.Read(reader);
        if (reader.Finish() is { } wrong)
        {
            return wrong.ToProblem();
        }

        var (suspect, refusal) = SuspectJson.ReadQuestion(await RequestBody.ReadAsync(request, cancellation));
        if (suspect is null)
        {
            return refusal!.ToProblem();
        }

        var (answer, unknown) = await answerer.AnswerAsync(suspect, "/suspect", page, cancellation);
        return answer is not null ? TypedResults.Ok(answer) : unknown!.ToProblem();
    }
}
