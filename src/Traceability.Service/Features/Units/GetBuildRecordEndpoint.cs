using Microsoft.AspNetCore.Http.HttpResults;
using Traceability.Contracts.Units;
using Traceability.Service.Http;
using Traceability.Service.Security;

namespace Traceability.Service.Features.Units;

/// <summary>GET /api/units/{item}/{serial}/build-record: everything recorded about one unit.</summary>
internal static class GetBuildRecordEndpoint
{
    public static void Map(IEndpointRouteBuilder api) =>
        api.MapGet("/units/{item}/{serial}/build-record", HandleAsync)
            .RequireAuthorization(Policies.Read)
            .WithName("getBuildRecord")
            .WithTags("Units")
            .WithSummary("Gives everything recorded about a unit and the units inside it")
            .Produces<BuildRecord>()
            .ProducesProblem(StatusCodes.Status400BadRequest)
            .ProducesProblem(StatusCodes.Status404NotFound);

    private static async Task<Results<Ok<BuildRecord>, ProblemHttpResult>> HandleAsync(
        string item, string serial, BuildRecords records, CancellationToken cancellation)
    {
        var path = new PathCodes();
        var unit = path.Unit(item, serial);
        if (path.Refusal is { } refusal)
        {
            return refusal.ToProblem();
        }

        return await records.FindAsync(unit, cancellation) is { } record ? TypedResults.Ok(record) : UnitProblems.Unknown(unit);
    }
}
