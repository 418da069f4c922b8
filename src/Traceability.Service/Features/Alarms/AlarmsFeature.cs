using Microsoft.AspNetCore.Http.HttpResults;
using Traceability.Contracts.Alarms;
using Traceability.Service.Security;
using Traceability.Service.Telemetry.Alarms;

namespace Traceability.Service.Features.Alarms;

/// <summary>What is wrong with the service now, for people and dashboards.</summary>
internal static class AlarmsFeature
{
    /// <summary>Maps the endpoint.</summary>
    public static void MapAlarms(this IEndpointRouteBuilder api) =>
        api.MapGet("/alarms", ListAsync)
            .RequireAuthorization(Policies.Read)
            .WithName("listAlarms")
            .WithTags("Alarms")
            .WithSummary("Lists what is wrong with the service now, since when, and what to do")
            .Produces<AlarmList>();

    private static async Task<Ok<AlarmList>> ListAsync(AlarmWatch watch, HttpContext context, CancellationToken cancellation)
    {
        context.Response.Headers.CacheControl = "no-store";
        var (asOf, alarms) = await watch.LookAsync(cancellation);
        return TypedResults.Ok(new AlarmList(asOf, [.. alarms.Select(a => new Alarm(a.Kind, a.Since, a.Count, a.Detail, a.Action))]));
    }
}
