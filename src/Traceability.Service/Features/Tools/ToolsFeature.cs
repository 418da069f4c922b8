using Traceability.Contracts;
using Traceability.Contracts.Tools;
using Traceability.Service.Security;
using Traceability.Service.Storage.Answers;
using Traceability.Service.Telemetry.Alarms;

namespace Traceability.Service.Features.Tools;

/// <summary>What the records of a tool tell: its life, capability and drift, and what was done with it. (Its definition is looked up like any other.)</summary>
internal static class ToolsFeature
{
    /// <summary>Adds the services.</summary>
    public static IServiceCollection AddTools(this IServiceCollection services)
    {
        services.AddAnswers();
        services.AddSingleton<IAlarmSource, CalibrationDueAlarm>();
        return services;
    }

    /// <summary>Maps the endpoints.</summary>
    public static void MapTools(this IEndpointRouteBuilder api)
    {
        Describe<ToolLifeView>(api.MapGet("/tools/{tool}/life", GetToolLifeEndpoint.HandleAsync), "getToolLife", "Tells how a tool stands: calibration, settings, suspect windows");
        Describe<ToolCapabilityView>(api.MapGet("/tools/{tool}/capability", GetToolCapabilityEndpoint.HandleAsync), "getToolCapability", "Scatter of a torque tool by setting and joint");
        Describe<ToolDriftView>(api.MapGet("/tools/{tool}/drift", GetToolDriftEndpoint.HandleAsync), "getToolDrift", "The checks of a tool as a chart with limits");
        Describe<ToolUsePage>(api.MapGet("/tools/{tool}/uses", GetToolUsesEndpoint.HandleAsync), "getToolUses", "What was done with a tool, newest first");
    }

    private static void Describe<T>(RouteHandlerBuilder endpoint, string name, string summary) => endpoint
        .RequireAuthorization(Policies.Read)
        .WithTags("Tools")
        .WithName(name)
        .WithSummary(summary)
        .Produces<T>()
        .Produces<Problem>(StatusCodes.Status400BadRequest, "application/problem+json")
        .Produces<Problem>(StatusCodes.Status401Unauthorized, "application/problem+json")
        .Produces<Problem>(StatusCodes.Status403Forbidden, "application/problem+json")
        .Produces<Problem>(StatusCodes.Status404NotFound, "application/problem+json");
}
