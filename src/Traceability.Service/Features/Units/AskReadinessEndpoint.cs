using Microsoft.AspNetCore.Http.HttpResults;
using Traceability.Domain.Judging;
using Traceability.Domain.Primitives;
using Traceability.Service.Http;
using Traceability.Service.Storage;

namespace Traceability.Service.Features.Units;

/// <summary>POST /api/units/{item}/{serial}/steps/{step}/readiness: may this unit start this step here, now?</summary>
internal static class AskReadinessEndpoint
{
    public static void Map(IEndpointRouteBuilder api) =>
        api.MapPost("/units/{item}/{serial}/steps/{step}/readiness", HandleAsync)
            .RequireAuthorization(Security.Policies.Read)
            .WithName("askReadiness")
            .WithTags("Units")
            .WithSummary("Asks whether a unit may start a step now: go, wait until, or no, with every reason")
            .WithDescription("Records nothing. Says what was recorded against which rule, never that something is safe: data sheets, local codes and licensed practice decide.")
            .Accepts<Contracts.ReadinessQuestion>("application/json")
            .Produces<Contracts.ReadinessAnswer>()
            .ProducesProblem(StatusCodes.Status400BadRequest)
            .ProducesProblem(StatusCodes.Status404NotFound)
            .ProducesProblem(StatusCodes.Status413PayloadTooLarge)
            .ProducesProblem(StatusCodes.Status415UnsupportedMediaType);

    private static async Task<Results<Ok<Contracts.ReadinessAnswer>, ProblemHttpResult>> HandleAsync(
        HttpContext context, string item, string serial, string step, UnitReader units, TimeProvider clock, CancellationToken cancellation)
    {
        var path = new PathCodes();
        var unit = path.Unit(item, serial);
        var code = path.Read<StepCode>("step", step);
        if (path.Refusal is { } refusal)
        {
            return refusal.ToProblem();
        }

        var now = clock.GetUtcNow();
        var (question, faults) = ReadinessReader.Read(await RequestBody.ReadAsync(context.Request, cancellation), code, now);
        if (question is null)
        {
            return new Refusal("question-malformed", RefusalKind.Malformed, "The question can't be read. Every fault is listed with its place.", faults).ToProblem();
        }

        // What the question names is looked up as if the step were recorded with it.
        return await units.FindAsync(unit, [Readiness.AsRecord(unit, question)], context.Response, cancellation) is { Judgement.Status.OpenedAt: not null } judged
            ? TypedResults.Ok(ReadinessViews.Of(Readiness.Ask(judged.Unit, judged.References, question), judged, now))
            : UnitProblems.Unknown(unit);
    }
}
