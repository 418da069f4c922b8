using Traceability.Contracts.Revisions;
using Traceability.Service.Security;

namespace Traceability.Service.Features.Revisions;

/// <summary>Revisions in motion: what two have different, which units each applies to, and what moving units comes to.</summary>
internal static class RevisionsFeature
{
    private const string Tag = "Revisions";

    /// <summary>Adds the feature's services.</summary>
    public static IServiceCollection AddRevisions(this IServiceCollection services) => services.AddSingleton<RoutingReader>().AddSingleton<MovePlanner>();

    /// <summary>Maps the feature's endpoints.</summary>
    public static void MapRevisions(this IEndpointRouteBuilder api)
    {
        Describe(api.MapGet("/routings/{item}/differences", GetDifferencesEndpoint.HandleAsync), "getRevisionDifferences", "Tells what two revisions of a routing have different, part by part")
            .Produces<RevisionDifference>();
        Describe(api.MapGet("/routings/{item}/effectivity", GetEffectivityEndpoint.HandleAsync), "getEffectivity", "Tells which units each released revision applies to, and where two of them meet")
            .Produces<RoutingEffectivity>();
        Describe(api.MapPost("/routings/{item}/move-plans", PostMovePlanEndpoint.HandleAsync), "planMoves", "Plans the move of units in process to another revision")
            .WithDescription(
                "Records nothing. For each unit: which completed steps carry over by rule, which must be done again and why, whether it can't move, and the fact that carries it out, "
                + "which is refused if the unit has changed since. A person decides.")
            .Accepts<MovePlanQuestion>("application/json")
            .Produces<MovePlan>()
            .ProducesProblem(StatusCodes.Status413PayloadTooLarge)
            .ProducesProblem(StatusCodes.Status415UnsupportedMediaType);
    }

    private static RouteHandlerBuilder Describe(RouteHandlerBuilder endpoint, string name, string summary) => endpoint
        .RequireAuthorization(Policies.Read)
        .WithName(name)
        .WithTags(Tag)
        .WithSummary(summary)
        .ProducesProblem(StatusCodes.Status400BadRequest)
        .ProducesProblem(StatusCodes.Status404NotFound);
}
