using Microsoft.AspNetCore.Http.HttpResults;
using Traceability.Contracts.Rebuilds;

namespace Traceability.Service.Features.Rebuilds;

/// <summary>GET /api/rebuilds.</summary>
internal static class GetRebuildsEndpoint
{
    public static async Task<Ok<RebuildList>> HandleAsync(RebuildStore store, CancellationToken cancellation) =>
        TypedResults.Ok(new RebuildList(await store.ListAsync(null, cancellation)));
}
