using Microsoft.Extensions.DependencyInjection.Extensions;
using Traceability.Contracts.Dispersion;
using Traceability.Service.Security;
using Traceability.Service.Storage.Answers;
using Traceability.Service.Storage.Workers;

namespace Traceability.Service.Features.Dispersion;

/// <summary>How widely lots are spread over finished units, shipments and consignees, and what mixing them costs.</summary>
internal static class DispersionFeature
{
    /// <summary>Adds the services.</summary>
    public static IServiceCollection AddDispersion(this IServiceCollection services)
    {
        services.AddOptions<DispersionOptions>().BindConfiguration(DispersionOptions.SectionName).ValidateDataAnnotations().ValidateOnStart();
        services.AddAnswers();
        services.TryAddSingleton<WorkerPulse>();
        services.TryAddSingleton<WorkerLease>();
        services.AddHostedService<DispersionCounter>();
        return services;
    }

    /// <summary>Maps the endpoints.</summary>
    public static IEndpointRouteBuilder MapDispersion(this IEndpointRouteBuilder api)
    {
        Describe(api.MapGet("/lots/dispersion", GetDispersionsEndpoint.HandleAsync), "getLotDispersions", "Lots by how many finished units carry them, widest first, and what mixing costs")
            .Produces<LotDispersions>();
        Describe(api.MapGet("/lots/{item}/{lot}/dispersion", GetLotDispersionEndpoint.HandleAsync), "getLotDispersion", "How many finished units, shipments and consignees a lot is spread over")
            .Produces<LotDispersionAnswer>()
            .ProducesProblem(StatusCodes.Status404NotFound);
        return api;
    }

    private static RouteHandlerBuilder Describe(RouteHandlerBuilder endpoint, string name, string summary) => endpoint
        .RequireAuthorization(Policies.Read)
        .WithTags("Dispersion")
        .WithName(name)
        .WithSummary(summary)
        .ProducesProblem(StatusCodes.Status400BadRequest);
}
