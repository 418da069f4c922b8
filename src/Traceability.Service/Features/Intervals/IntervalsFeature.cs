using Microsoft.Extensions.DependencyInjection.Extensions;
using Traceability.Contracts;
using Traceability.Contracts.Intervals;
using Traceability.Service.Security;
using Traceability.Service.Storage;
using Traceability.Service.Storage.Answers;

namespace Traceability.Service.Features.Intervals;

/// <summary>Intervals between steps (cure, soak, open time): what is running now, and which rules were broken.</summary>
internal static class IntervalsFeature
{
    private const string Tag = "Intervals";

    /// <summary>Adds the services.</summary>
    public static IServiceCollection AddIntervals(this IServiceCollection services)
    {
        services.TryAddSingleton<ItemCatalogue>();
        services.AddAnswers();
        return services;
    }

    /// <summary>Maps the endpoints.</summary>
    public static IEndpointRouteBuilder MapIntervals(this IEndpointRouteBuilder api)
    {
        Describe<OpenIntervals>(api.MapGet("/intervals/open", GetOpenIntervalsEndpoint.HandleAsync), "getOpenIntervals", "What is curing now, by what needs attention first");
        Describe<IntervalViolations>(api.MapGet("/intervals/violations", GetIntervalViolationsEndpoint.HandleAsync), "getIntervalViolations", "Interval rules that were broken, and those that are overdue now");
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
