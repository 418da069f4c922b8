using Microsoft.AspNetCore.Http.HttpResults;
using Traceability.Contracts.Lots;
using Traceability.Domain.Lots;
using Traceability.Domain.Primitives;
using Traceability.Domain.Scope;
using Traceability.Service.Http;
using Traceability.Service.Security;
using Traceability.Service.Storage.Answers;

namespace Traceability.Service.Features.Scope.Reconciling;

/// <summary>GET /api/lots/{item}/{lot}/reconciliation.</summary>
internal static class GetReconciliationEndpoint
{
    public static void Map(IEndpointRouteBuilder api) =>
        api.MapGet("/lots/{item}/{lot}/reconciliation", HandleAsync)
            .RequireAuthorization(Policies.Read)
            .WithTags("Lots")
            .WithName("getLotReconciliation")
            .WithSummary("A lot's mass balance beside its scope: where what is unexplained could have gone, and whether the scope can be complete")
            .Produces<LotReconciliationView>()
            .ProducesProblem(StatusCodes.Status400BadRequest)
            .ProducesProblem(StatusCodes.Status404NotFound);

    private static async Task<Results<Ok<LotReconciliationView>, ProblemHttpResult>> HandleAsync(
        string item, string lot, AnswerDatabase database, ScopeRunner runner, CancellationToken cancellation)
    {
        var path = new PathCodes();
        var key = new LotKey(path.Read<ItemNumber>("item", item), path.Read<LotNumber>("lot", lot));
        if (path.Refusal is { } malformed)
        {
            return malformed.ToProblem();
        }

        await using var session = await database.OpenAsync(cancellation);
        var (outcome, _) = await runner.AskAsync(session.Connection, new SuspectLot(key), string.Empty, cancellation);
        if (outcome is null)
        {
            return Refusal.At("lot-unknown", RefusalKind.Unknown, "lot", $"Lot {key} was never received and no record names it. Check item and lot number.").ToProblem();
        }

        var found = await LotReconciliations.ReadAsync(
            session.Connection, (LotScopeResult)outcome.Found.Scopes[0], outcome.Knowledge, outcome.Completeness.UnreadableUnits, cancellation);
        return TypedResults.Ok(View(outcome, found));
    }

    private static LotReconciliationView View(ScopeOutcome outcome, LotReconciliation found) => new(
        outcome.AsOf,
        LotBalanceViews.Of(found.Lot, found.Balance),
        found.PerUnit is { } take ? new(take.Units, take.Least, take.Typical, take.Most) : null,
        found.LeastPerUnit,
        found.LeastPerUnit is null ? null : found.IsByRouting ? "routing" : "recorded",
        found.UnitsMost,
        found.UnitsTypical,
        found.Scope.Proven,
        found.Scope.Possible,
        found.Scope.OpenUnits,
        found.CapacityMost,
        found.BeyondLeast,
        found.BeyondMost,
        [.. found.Warnings().Select(w => new LotWarningView(w.Code, w.Detail))],
        outcome.Completeness);
}
