using Microsoft.AspNetCore.Http.HttpResults;
using Traceability.Contracts.Rebuilds;
using Traceability.Domain.Primitives;
using Traceability.Service.Http;
using Traceability.Service.Http.Querying;
using Traceability.Service.Security;

namespace Traceability.Service.Features.Rebuilds;

/// <summary>POST /api/rebuilds.</summary>
internal static class PostRebuildEndpoint
{
    /// <summary>The parameters, for the contract; <see cref="QueryReader"/> reads them.</summary>
    /// <param name="CompareOnly">true: only compare, and keep the live rows. Default: false.</param>
    internal sealed record Query(string? CompareOnly);

    public static async Task<Results<Accepted<Rebuild>, ProblemHttpResult>> HandleAsync(
        [AsParameters] Query query, HttpRequest request, RebuildService service, RebuildStore store, CancellationToken cancellation)
    {
        _ = query;
        var reader = new QueryReader(request.Query);
        var isCompareOnly = reader.Flag("compareOnly");
        if (reader.Finish() is { } refusal)
        {
            return refusal.ToProblem();
        }

        return await service.StartAsync(Caller.Of(request.HttpContext).Name, isCompareOnly, cancellation) is { } id
            ? TypedResults.Accepted("/api/rebuilds", (await store.ListAsync(id, cancellation))[0])
            : new Refusal("rebuild-running", RefusalKind.Contradiction, "A rebuild is running. GET /api/rebuilds says how far it is.", []).ToProblem();
    }
}
