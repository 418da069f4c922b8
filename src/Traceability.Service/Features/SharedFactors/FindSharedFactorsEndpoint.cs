using Microsoft.AspNetCore.Http.HttpResults;
using Traceability.Contracts.SharedFactors;
using Traceability.Domain.Primitives;
using Traceability.Service.Http;
using Traceability.Service.Security;

namespace Traceability.Service.Features.SharedFactors;

/// <summary>POST /api/shared-factors.</summary>
internal static class FindSharedFactorsEndpoint
{
    public static void Map(IEndpointRouteBuilder api) =>
        api.MapPost("/shared-factors", HandleAsync)
            .RequireAuthorization(Policies.Read)
            .WithName("findSharedFactors")
            .WithTags("Shared factors")
            .WithSummary("Finds what failed units share more than chance allows: lots, containers, tools, stations, people, revisions")
            .WithDescription(
                "Records nothing. Compares the failed units with units of the same items and period, through everything that is or was inside them: "
                + "Fisher's exact test for each factor, adjusted for all that were tried. A factor found is a suspect, not yet a cause.")
            .Accepts<SharedFactorQuestion>("application/json")
            .Produces<SharedFactorFound>()
            .ProducesProblem(StatusCodes.Status400BadRequest)
            .ProducesProblem(StatusCodes.Status404NotFound)
            .ProducesProblem(StatusCodes.Status413PayloadTooLarge)
            .ProducesProblem(StatusCodes.Status415UnsupportedMediaType);

    private static async Task<Results<Ok<SharedFactorFound>, ProblemHttpResult>> HandleAsync(
        HttpContext context, SharedFactorReader reader, CancellationToken cancellation)
    {
        var (search, faults) = SearchReading.Read(await RequestBody.ReadAsync(context.Request, cancellation));
        if (search is null)
        {
            return new Refusal("question-malformed", RefusalKind.Malformed, "The question can't be read. Every fault is listed with its place.", faults).ToProblem();
        }

        var (found, refusal) = await reader.FindAsync(search, cancellation);
        return found is not null ? TypedResults.Ok(found) : refusal!.ToProblem();
    }
}
