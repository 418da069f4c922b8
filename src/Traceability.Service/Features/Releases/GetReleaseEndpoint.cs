using Microsoft.AspNetCore.Http.HttpResults;
using Traceability.Contracts.Units;
using Traceability.Domain.Judging;
using Traceability.Domain.Primitives;
using Traceability.Domain.ProductUnits;
using Traceability.Service.Http;
using Traceability.Service.Storage;

namespace Traceability.Service.Features.Releases;

/// <summary>GET /api/units/{item}/{serial}/release: may it be released, and who has released it?</summary>
internal static class GetReleaseEndpoint
{
    public static void Map(IEndpointRouteBuilder api) =>
        api.MapGet("/units/{item}/{serial}/release", HandleAsync)
            .RequireAuthorization(Security.Policies.Read)
            .WithName("getRelease")
            .WithTags("Releases")
            .WithSummary("Tells whether a unit may be released, with everything that is in the way, and the signatures under its releases")
            .WithDescription("Judged at the moment of asking. Says what was recorded against which rule, never that the unit is safe or fit for use. Each signature is checked against the stored facts.")
            .Produces<ReleaseState>()
            .ProducesProblem(StatusCodes.Status400BadRequest)
            .ProducesProblem(StatusCodes.Status404NotFound);

    private static async Task<Results<Ok<ReleaseState>, ProblemHttpResult>> HandleAsync(
        string item, string serial, UnitReader units, SignedRecords records, TimeProvider clock, CancellationToken cancellation)
    {
        var path = new PathCodes();
        var unit = path.Unit(item, serial);
        if (path.Refusal is { } refusal)
        {
            return refusal.ToProblem();
        }

        if (await units.FindTreeAsync(unit, [], insideOf: null, cancellation) is not { } tree)
        {
            return Refusal.At("unit-unknown", RefusalKind.Unknown, "serial", $"Unit {unit} is not known. Scan it again, or open it first.").ToProblem();
        }

        var matches = new Dictionary<Signature, bool>();
        foreach (var signature in tree.Judged.Unit.Effective.Select(f => (f.Fact as UnitReleased)?.Signature).OfType<Signature>())
        {
            matches[signature] = await records.MatchesAsync(signature, cancellation);
        }

        var now = clock.GetUtcNow();
        var blockers = Release.Ask(tree.Assembled, now);
        return TypedResults.Ok(new ReleaseState(
            ReleaseViews.Reference(unit),
            now,
            blockers.IsEmpty,
            [.. blockers.Select(ReleaseViews.Of)],
            [.. SignatureViews.Of(tree.Judged.Unit, s => matches[s])],
            CompletenessReader.All([.. tree.All.Select(CompletenessReader.Of)])));
    }
}
