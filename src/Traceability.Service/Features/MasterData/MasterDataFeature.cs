namespace Traceability.Service.Features.MasterData;

/// <summary>Recording definitions in one go, from a file.</summary>
internal static class MasterDataFeature
{
    /// <summary>Adds the feature's services.</summary>
    public static IServiceCollection AddMasterData(this IServiceCollection services) => services.AddSingleton<MasterDataStore>();

    /// <summary>Maps the feature's endpoints.</summary>
    public static IEndpointRouteBuilder MapMasterData(this IEndpointRouteBuilder api)
    {
        PostMasterDataEndpoint.Map(api);
        return api;
    }
}
