using Traceability.Service.Ingest.Bulk;

namespace Traceability.Service.Features.History;

/// <summary>Importing facts of the past.</summary>
internal static class HistoryFeature
{
    /// <summary>Adds the feature's services.</summary>
    public static IServiceCollection AddHistory(this IServiceCollection services)
    {
        services.AddOptions<HistoryOptions>().BindConfiguration(HistoryOptions.SectionName).ValidateDataAnnotations().ValidateOnStart();
        services.AddSingleton<HistoryImporter>();
        return services;
    }

    /// <summary>Maps the feature's endpoint.</summary>
    public static void MapHistory(this IEndpointRouteBuilder api) => PostHistoryEndpoint.Map(api);
}
