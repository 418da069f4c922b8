using Microsoft.Extensions.Primitives;

namespace Traceability.Service.Http;

/// <summary>Headers that keep a browser from doing more with an answer than showing it.</summary>
internal static class SecurityHeaders
{
    private static readonly StringValues NoStore = "no-store";
    private static readonly StringValues NoContent = "default-src 'none'; frame-ancestors 'none'; base-uri 'none'; form-action 'none'";
    private static readonly StringValues NoSniff = "nosniff";
    private static readonly StringValues NoReferrer = "no-referrer";
    private static readonly StringValues Deny = "DENY";
    private static readonly StringValues SameOrigin = "same-origin";

    /// <summary>Sets them on every answer; an endpoint may set a wider Content-Security-Policy of its own.</summary>
    public static void UseSecurityHeaders(this IApplicationBuilder app) => app.Use((context, next) =>
    {
        // At the start of the answer, since the handling of errors clears what was set before.
        context.Response.OnStarting(static state => Set((HttpContext)state), context);
        return next(context);
    });

    private static Task Set(HttpContext context)
    {
        var headers = context.Response.Headers;
        headers.XContentTypeOptions = NoSniff;
        headers["Referrer-Policy"] = NoReferrer;
        headers.XFrameOptions = Deny;
        headers["Cross-Origin-Resource-Policy"] = SameOrigin;
        if (headers.ContentSecurityPolicy.Count == 0)
        {
            headers.ContentSecurityPolicy = NoContent;
        }

        // What a key's holder may see is nothing for a cache between; and every answer is as of now.
        if (context.Request.Path.StartsWithSegments("/api", StringComparison.OrdinalIgnoreCase))
        {
            headers.CacheControl = NoStore;
        }

        return Task.CompletedTask;
    }
}
