namespace Traceability.Service.Features.Releases;

/// <summary>Releasing a unit: whether it may be, and the decision with its signature.</summary>
internal static class ReleasesFeature
{
    /// <summary>Adds the feature's services.</summary>
    public static IServiceCollection AddReleases(this IServiceCollection services) => services.AddSingleton<SignedRecords>().AddSingleton<ReleaseDesk>();

    /// <summary>Maps the feature's endpoints.</summary>
    public static void MapReleases(this IEndpointRouteBuilder api)
    {
        GetReleaseEndpoint.Map(api);
        PostReleaseEndpoint.Map(api);
    }
}
