using System.Diagnostics;
using Microsoft.AspNetCore.Http.HttpResults;
using Traceability.Domain.Primitives;
using Traceability.Service.Http;
using Traceability.Service.Security;

namespace Traceability.Service.Features.Access;

/// <summary>DELETE /api/keys/{id}.</summary>
internal static class RevokeKeyEndpoint
{
    public static async Task<Results<NoContent, ProblemHttpResult>> HandleAsync(
        Guid id, AccessKeyStore store, KeyLookup lookup, TimeProvider clock, CancellationToken cancellation)
    {
        var answer = await store.RevokeAsync(id, clock.GetUtcNow(), cancellation);
        lookup.Forget(id);
        return answer switch
        {
            AccessKeyStore.Revocation.Done => TypedResults.NoContent(),
            AccessKeyStore.Revocation.Unknown => Refusal.At("key-not-known", RefusalKind.Unknown, "id", $"There is no key {id}.").ToProblem(),
            AccessKeyStore.Revocation.LastAdministrator => Refusal.At(
                "key-last-administrator",
                RefusalKind.Contradiction,
                "id",
                "It is the only administrator key in force: nobody could give keys any more. Give another administrator key first.").ToProblem(),
            _ => throw new UnreachableException(),
        };
    }
}
