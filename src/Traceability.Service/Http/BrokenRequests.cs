using Microsoft.AspNetCore.Connections;
using Microsoft.AspNetCore.Connections.Features;
using Microsoft.AspNetCore.Diagnostics;

namespace Traceability.Service.Http;

/// <summary>Requests that break off or can't be read to their end. It is nothing that the service has done wrong, and there may be thousands at once.</summary>
/// <remarks>
/// Beside the endpoints, so that the exception has a short way: each stage that it passes costs as much as reading a small request.
/// Further out it would be logged as a failure, with its trace.
/// </remarks>
internal static class BrokenRequests
{
    // Not a registered status: it is seen by the service's own metrics only.
    private const int SenderGone = 499;

    /// <summary>Ends what has broken off, and answers what can't be read; the connection is closed, for where its next request begins is not known.</summary>
    public static void UseBrokenRequests(this WebApplication app) => app.Use(PassAsync);

    private static async Task PassAsync(HttpContext context, RequestDelegate next)
    {
        try
        {
            await next(context);
        }
        catch (ConnectionResetException)
        {
            if (!context.Response.HasStarted)
            {
                context.Response.StatusCode = SenderGone;
                context.Features.Get<IStatusCodePagesFeature>()?.Enabled = false;
            }

            context.Abort();
        }
        catch (BadHttpRequestException exception) when (IsOfServer(exception) && !context.Response.HasStarted)
        {
            // Not by a header alone: an answer that nobody can get has none, and the server library would go on reading where it can't.
            context.Features.Get<IConnectionLifetimeNotificationFeature>()?.RequestClose();
            await ExceptionProblems.WriteAsync(context, exception);
        }
    }

    // The server library throws a kind of its own; what endpoints can't bind was read whole.
    private static bool IsOfServer(BadHttpRequestException exception) => exception.GetType() != typeof(BadHttpRequestException);
}
