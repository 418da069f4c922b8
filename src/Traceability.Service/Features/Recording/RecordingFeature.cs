using Traceability.Service.Ingest;

namespace Traceability.Service.Features.Recording;

/// <summary>Recording facts, singly and in batches, and looking one up again.</summary>
internal static class RecordingFeature
{
    /// <summary>Adds the feature's services.</summary>
    public static IServiceCollection AddRecording(this IServiceCollection services)
    {
        services.AddOptions<ClockOptions>().BindConfiguration(ClockOptions.SectionName).ValidateDataAnnotations().ValidateOnStart();
        services.AddSingleton<TerminalClock>();
        services.AddSingleton<FactIntake>();
        return services;
    }

    /// <summary>Maps the feature's endpoints.</summary>
    public static IEndpointRouteBuilder MapRecording(this IEndpointRouteBuilder api)
    {
        PostFactEndpoint.Map(api);
        PostBatchEndpoint.Map(api);
        GetFactEndpoint.Map(api);
        return api;
    }
}
