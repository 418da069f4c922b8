using Microsoft.AspNetCore.Http.Features;
using Microsoft.AspNetCore.Http.Metadata;

namespace Traceability.Service.Http;

/// <summary>Refuses a body whose media type is not said: the routing only refuses one that is said and not taken.</summary>
internal static class RequiredContentType
{
    /// <summary>Checks every request with a body; after routing and after the key was asked for.</summary>
    public static void UseRequiredContentType(this WebApplication app) => app.Use(static (context, next) =>
    {
        if (!string.IsNullOrEmpty(context.Request.ContentType)
            || context.Features.Get<IHttpRequestBodyDetectionFeature>() is not { CanHaveBody: true }
            || context.GetEndpoint()?.Metadata.GetMetadata<IAcceptsMetadata>() is null)
        {
            return next(context);
        }

        // The body of the answer is the one of every bare status.
        context.Response.StatusCode = StatusCodes.Status415UnsupportedMediaType;
        return Task.CompletedTask;
    });
}
