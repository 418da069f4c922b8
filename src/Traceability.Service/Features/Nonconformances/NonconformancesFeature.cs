using Microsoft.Extensions.DependencyInjection.Extensions;
using Traceability.Contracts;
using Traceability.Contracts.Nonconformances;
using Traceability.Service.Security;
using Traceability.Service.Storage;
using Traceability.Service.Storage.Answers;

namespace Traceability.Service.Features.Nonconformances;

/// <summary>Nonconformances over all units, and one with its history. Reports and decisions are facts like all others.</summary>
internal static class NonconformancesFeature
{
    private const string Tag = "Nonconformances";

    /// <summary>Adds the services.</summary>
    public static IServiceCollection AddNonconformances(this IServiceCollection services)
    {
        services.TryAddSingleton<ItemCatalogue>();
        services.AddAnswers();
        return services;
    }

    /// <summary>Maps the endpoints.</summary>
    public static IEndpointRouteBuilder MapNonconformances(this IEndpointRouteBuilder api)
    {
        Describe<NonconformancePage>(api.MapGet("/nonconformances", ListNonconformancesEndpoint.HandleAsync), "listNonconformances", "Nonconformances, newest first");
        Describe<NonconformanceView>(
            api.MapGet("/nonconformances/{item}/{serial}/{id}", GetNonconformanceEndpoint.HandleAsync), "getNonconformance", "One nonconformance with everything recorded about it");
        return api;
    }

    private static void Describe<T>(RouteHandlerBuilder endpoint, string name, string summary) => endpoint
        .RequireAuthorization(Policies.Read)
        .WithTags(Tag)
        .WithName(name)
        .WithSummary(summary)
        .Produces<T>()
        .Produces<Problem>(StatusCodes.Status400BadRequest, "application/problem+json")
        .Produces<Problem>(StatusCodes.Status401Unauthorized, "application/problem+json")
        .Produces<Problem>(StatusCodes.Status403Forbidden, "application/problem+json")
        .Produces<Problem>(StatusCodes.Status404NotFound, "application/problem+json");
}
