namespace Traceability.Service.Features.Units;

/// <summary>What is known of units: the list, one as it stands, its build record, and whether a step may start.</summary>
internal static class UnitsFeature
{
    /// <summary>Adds the feature's services.</summary>
    public static IServiceCollection AddUnits(this IServiceCollection services) => services.AddSingleton<BuildRecords>().AddSingleton<MateReader>();

    /// <summary>Maps the feature's endpoints.</summary>
    public static void MapUnits(this IEndpointRouteBuilder api)
    {
        ListUnitsEndpoint.Map(api);
        GetUnitEndpoint.Map(api);
        GetBuildRecordEndpoint.Map(api);
        GetStructureEndpoint.Map(api);
        AskReadinessEndpoint.Map(api);
        AskFitEndpoint.Map(api);
    }
}
