using Microsoft.AspNetCore.Http.HttpResults;
using Traceability.Contracts.Batches;
using Traceability.Domain.Batches;
using Traceability.Domain.Primitives;
using Traceability.Service.Http;

namespace Traceability.Service.Features.Batches;

/// <summary>What is known of one batch.</summary>
internal static class GetBatchEndpoint
{
    public static async Task<Results<Ok<BatchView>, ProblemHttpResult>> HandleAsync(string item, string batch, BatchReader batches, CancellationToken cancellation)
    {
        var path = new PathCodes();
        var key = new BatchKey(path.Read<ItemNumber>("item", item), path.Read<BatchNumber>("batch", batch));
        if (path.Refusal is { } refusal)
        {
            return refusal.ToProblem();
        }

        return await batches.FindAsync(key, cancellation) is { } found ? TypedResults.Ok(found) : BatchDecisions.Unknown(key, "batch").ToProblem();
    }
}
