using Microsoft.Extensions.DependencyInjection.Extensions;
using Traceability.Contracts;
using Traceability.Contracts.Findings;
using Traceability.Service.Security;
using Traceability.Service.Storage;
using Traceability.Service.Storage.Answers;

namespace Traceability.Service.Features.Findings;

/// <summary>Findings over all units: listed, counted, and the defects among them.</summary>
internal static class FindingsFeature
{
    private const string Tag = "Findings";

    /// <summary>Adds the services.</summary>
    public static IServiceCollection AddFindings(this IServiceCollection services)
    {
        services.TryAddSingleton<ItemCatalogue>();
        services.AddAnswers();
        return services;
    }

    /// <summary>Maps the endpoints.</summary>
    public static IEndpointRouteBuilder MapFindings(this IEndpointRouteBuilder api)
    {
        Describe<FindingPage>(api.MapGet("/findings", GetFindingsEndpoint.HandleAsync), "getFindings", "Findings, newest first");
        Describe<FindingCounts>(api.MapGet("/findings/counts", GetFindingCountsEndpoint.HandleAsync), "getFindingCounts", "Findings counted by kind, with the Pareto of defects");
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
