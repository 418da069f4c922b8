using Microsoft.Extensions.DependencyInjection.Extensions;
using Traceability.Contracts;
using Traceability.Contracts.Yield;
using Traceability.Service.Security;
using Traceability.Service.Storage;
using Traceability.Service.Storage.Answers;
using Traceability.Service.Storage.Workers;
using Traceability.Service.Telemetry.Alarms;

namespace Traceability.Service.Features.Yield;

/// <summary>First-pass yields of steps and units, rolled throughput yield, and the counters behind them.</summary>
internal static class YieldFeature
{
    private const string Tag = "Yield";

    /// <summary>Adds the services.</summary>
    public static IServiceCollection AddYield(this IServiceCollection services)
    {
        services.AddOptions<YieldOptions>().BindConfiguration(YieldOptions.SectionName).ValidateDataAnnotations().ValidateOnStart();
        services.TryAddSingleton<ItemCatalogue>();
        services.AddAnswers();
        services.AddSingleton<YieldAnswers>();
        services.AddSingleton<IAlarmSource, YieldQueueAlarm>();
        services.TryAddSingleton<WorkerPulse>();
        services.AddHostedService<YieldFolder>();
        return services;
    }

    /// <summary>Maps the endpoints.</summary>
    public static IEndpointRouteBuilder MapYield(this IEndpointRouteBuilder api)
    {
        Describe<StepYields>(api.MapGet("/yield/steps", GetStepYieldsEndpoint.HandleAsync), "getStepYields", "First-pass yield, rework and defects of an item's steps");
        Describe<UnitYields>(api.MapGet("/yield/units", GetUnitYieldsEndpoint.HandleAsync), "getUnitYields", "First-pass yield and scrap ratio of the units that ended");
        Describe<ThroughputYield>(api.MapGet("/yield/throughput", GetThroughputYieldEndpoint.HandleAsync), "getThroughputYield", "Rolled throughput yield of an item's routing");
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
