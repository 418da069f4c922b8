using Microsoft.AspNetCore.Http.HttpResults;

namespace Traceability.Service.Telemetry;

/// <summary>GET /health/live and GET /health/ready.</summary>
internal static class HealthEndpoints
{
    /// <summary>Maps both under /health.</summary>
    public static void Map(RouteGroupBuilder health)
    {
        health.MapGet("/live", Live)
            .WithName("getLiveness")
            .WithSummary("Does the process answer?")
            .WithDescription("Looks at nothing else: restart the service if this does not answer.");
        health.MapGet("/ready", ReadyAsync)
            .WithName("getReadiness")
            .WithSummary("Can the service do its work?")
            .WithDescription("Looks at the database, the settings on which durability hangs, the form of the tables and the workers; each with a sentence. 503 when something failed.")
            .Produces<HealthReport>()
            .Produces<HealthReport>(StatusCodes.Status503ServiceUnavailable);
    }

    private static Ok<LivenessView> Live() => TypedResults.Ok(new LivenessView("alive"));

    private static async Task<JsonHttpResult<HealthReport>> ReadyAsync(HttpContext context, Readiness readiness)
    {
        context.Response.Headers.CacheControl = "no-store";
        var report = await readiness.LookAsync(context.RequestAborted);
        return TypedResults.Json(report, statusCode: report.IsReady ? StatusCodes.Status200OK : StatusCodes.Status503ServiceUnavailable);
    }
}

/// <summary>That the process answers.</summary>
/// <param name="Status">Always alive.</param>
internal sealed record LivenessView(string Status);
