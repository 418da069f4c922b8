using Traceability.Contracts.Batches;
using Traceability.Service.Security;

namespace Traceability.Service.Features.Batches;

/// <summary>Looks up batches of parts that have no serials yet.</summary>
internal static class BatchesFeature
{
    /// <summary>Adds the feature's services.</summary>
    public static IServiceCollection AddBatches(this IServiceCollection services) => services.AddSingleton<BatchReader>();

    /// <summary>Maps the feature's endpoints.</summary>
    public static void MapBatches(this IEndpointRouteBuilder api) => api.MapGet("/batches/{item}/{batch}", GetBatchEndpoint.HandleAsync)
        .RequireAuthorization(Policies.Read)
        .WithName("getBatch")
        .WithTags("Batches")
        .WithSummary("Gives a batch of parts without serials, with its records and the units that were taken out of it")
        .Produces<BatchView>()
        .ProducesProblem(StatusCodes.Status400BadRequest)
        .ProducesProblem(StatusCodes.Status404NotFound);
}
