namespace Traceability.Service.Features.SharedFactors;

/// <summary>What failed units share more than chance allows.</summary>
internal static class SharedFactorsFeature
{
    /// <summary>Adds what the endpoint needs.</summary>
    public static IServiceCollection AddSharedFactors(this IServiceCollection services) => services.AddSingleton<SharedFactorReader>();

    /// <summary>Maps the endpoint.</summary>
    public static void MapSharedFactors(this IEndpointRouteBuilder api) => FindSharedFactorsEndpoint.Map(api);
}
