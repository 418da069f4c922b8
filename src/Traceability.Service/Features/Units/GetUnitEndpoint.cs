using Microsoft.AspNetCore.Http.HttpResults;
using Traceability.Contracts.Units;
using Traceability.Service.Http;
using Traceability.Service.Security;
using Traceability.Service.Storage;

namespace Traceability.Service.Features.Units;

/// <summary>GET /api/units/{item}/{serial}: one unit as it stands.</summary>
internal static class GetUnitEndpoint
{
    public static void Map(IEndpointRouteBuilder api) =>
        api.MapGet("/units/{item}/{serial}", HandleAsync)
            .RequireAuthorization(Policies.Read)
            .WithName("getUnit")
            .WithTags("Units")
            .WithSummary("Tells where a unit stands, judged at the moment of asking")
            .Produces<UnitView>()
            .ProducesProblem(StatusCodes.Status400BadRequest)
            .ProducesProblem(StatusCodes.Status404NotFound);

    private static async Task<Results<Ok<UnitView>, ProblemHttpResult>> HandleAsync(
        string item, string serial, UnitReader units, TimeProvider clock, CancellationToken cancellation)
    {
        var path = new PathCodes();
        var unit = path.Unit(item, serial);
        if (path.Refusal is { } refusal)
        {
            return refusal.ToProblem();
        }

        return await units.FindAsync(unit, [], cancellation) is { } judged
            ? TypedResults.Ok(UnitViews.Of(judged, clock.GetUtcNow()))
            : UnitProblems.Unknown(unit);
    }
}
