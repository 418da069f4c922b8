using Microsoft.AspNetCore.Http.HttpResults;
using Traceability.Contracts.Revisions;
using Traceability.Domain.Primitives;
using Traceability.Service.Http;
using Traceability.Service.Http.Reading;

namespace Traceability.Service.Features.Revisions;

/// <summary>POST /api/routings/{item}/move-plans.</summary>
internal static class PostMovePlanEndpoint
{
    public static async Task<Results<Ok<MovePlan>, ProblemHttpResult>> HandleAsync(
        HttpContext context, string item, RoutingReader routings, MovePlanner planner, CancellationToken cancellation)
    {
        var path = new PathCodes();
        var number = path.Read<ItemNumber>("item", item);
        if (path.Refusal is { } refusal)
        {
            return refusal.ToProblem();
        }

        var (asked, malformed) = QuestionReading.Read(await RequestBody.ReadAsync(context.Request, cancellation), MovePlanReader.Read);
        if (asked is null)
        {
            return malformed!.ToProblem();
        }

        if (await routings.FindAsync(number, cancellation) is not { } routing)
        {
            return RoutingReader.Unknown(number).ToProblem();
        }

        if (routing.FindReleased(asked.To) is not { } to)
        {
            return RoutingReader.Unknown(number, asked.To, "/to", "A released revision").ToProblem();
        }

        return asked.From is { } from && routing.FindReleased(from) is null
            ? RoutingReader.Unknown(number, from, "/from", "A released revision").ToProblem()
            : TypedResults.Ok(await planner.PlanAsync(number, to, asked, cancellation));
    }
}
