using Traceability.Service.Security;

namespace Traceability.Service.Features.Rebuilds;

/// <summary>Building everything that is derived from the facts a second time, beside the live rows, and putting it in their place.</summary>
internal static class RebuildsFeature
{
    /// <summary>Adds the feature's services.</summary>
    public static IServiceCollection AddRebuilds(this IServiceCollection services)
    {
        services.AddOptions<RebuildOptions>().BindConfiguration(RebuildOptions.SectionName).ValidateDataAnnotations().ValidateOnStart();
        services.AddSingleton<RebuildStore>();
        services.AddSingleton<RebuildService>();
        services.AddHostedService(s => s.GetRequiredService<RebuildService>());
        return services;
    }

    /// <summary>Maps /rebuilds under the API's root.</summary>
    public static void MapRebuilds(this IEndpointRouteBuilder api)
    {
        var rebuilds = api.MapGroup("/rebuilds").WithTags("Rebuilds").RequireAuthorization(Policies.Administer);
        rebuilds.MapPost(string.Empty, PostRebuildEndpoint.HandleAsync)
            .WithName("postRebuild")
            .WithSummary("Start a rebuild")
            .WithDescription("Judges every unit again from its facts, beside the live rows and while these are written and read; compares the two; then, unless compareOnly=true, puts the rebuilt rows in place. One runs at a time, over all instances. A rebuild that fails leaves the live rows as they are.")
            .ProducesProblem(StatusCodes.Status400BadRequest)
            .ProducesProblem(StatusCodes.Status401Unauthorized)
            .ProducesProblem(StatusCodes.Status403Forbidden)
            .ProducesProblem(StatusCodes.Status409Conflict);
        rebuilds.MapGet(string.Empty, GetRebuildsEndpoint.HandleAsync)
            .WithName("getRebuilds")
            .WithSummary("List the last rebuilds")
            .WithDescription("How far the running one is, and what the others found: each table's rows and their hash, live and rebuilt, and the units that differ by name.")
            .ProducesProblem(StatusCodes.Status401Unauthorized)
            .ProducesProblem(StatusCodes.Status403Forbidden);
    }
}
