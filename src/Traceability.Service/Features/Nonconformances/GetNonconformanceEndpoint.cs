using Microsoft.AspNetCore.Http.HttpResults;
using Traceability.Contracts.Nonconformances;
using Traceability.Domain.Primitives;
using Traceability.Service.Http;
using Traceability.Service.Storage;

namespace Traceability.Service.Features.Nonconformances;

/// <summary>GET /api/nonconformances/{item}/{serial}/{id}.</summary>
internal static class GetNonconformanceEndpoint
{
    public static async Task<Results<Ok<NonconformanceView>, ProblemHttpResult>> HandleAsync(
        string item, string serial, string id, UnitReader units, TimeProvider clock, CancellationToken cancellation)
    {
        var path = new PathCodes();
        var key = path.Unit(item, serial);
        var name = path.Read<NonconformanceId>("id", id);
        if (path.Refusal is { } refusal)
        {
            return refusal.ToProblem();
        }

        if (await units.FindAsync(key, [], cancellation) is not { } judged)
        {
            return Refusal.At("unit-unknown", RefusalKind.Unknown, "serial", $"Unit {key} is not known here.").ToProblem();
        }

        if (judged.Judgement.Nonconformances.FirstOrDefault(n => n.Id == name) is not { } found)
        {
            return Refusal.At("nonconformance-unknown", RefusalKind.Unknown, "id", $"Unit {key} has no nonconformance {name}.").ToProblem();
        }

        return TypedResults.Ok(new NonconformanceView(
            clock.GetUtcNow(), NonconformanceForms.Of(found, key), NonconformanceHistory.Of(judged.Unit, found), CompletenessReader.Of(judged)));
    }
}
