using Microsoft.AspNetCore.Http.HttpResults;
using Traceability.Service.Security;

namespace Traceability.Service.Features.Access;

/// <summary>GET /api/keys.</summary>
internal static class ListKeysEndpoint
{
    public static async Task<Ok<KeyListView>> HandleAsync(AccessKeyStore store, CancellationToken cancellation) =>
        TypedResults.Ok(new KeyListView([.. (await store.ListAsync(cancellation)).Select(KeyView.Of)]));
}
