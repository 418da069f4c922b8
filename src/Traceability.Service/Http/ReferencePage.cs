using System.Reflection;

namespace Traceability.Service.Http;

/// <summary>/openapi.json, and /docs: a page of our own that shows it. Both are open; neither holds anything recorded.</summary>
internal static class ReferencePage
{
    private const string Folder = "Traceability.Service.Http.Reference.";

    private const string Policy =
        "default-src 'none'; script-src 'self'; style-src 'self'; connect-src 'self'; img-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'";

    /// <summary>Maps both.</summary>
    public static void MapReference(this IEndpointRouteBuilder root)
    {
        root.MapGet("/openapi.json", (OpenApiText document) => TypedResults.Text(document.Text, "application/json; charset=utf-8"))
            .AllowAnonymous()
            .ExcludeFromDescription();
        Map(root, "/docs", "index.html", "text/html; charset=utf-8");
        Map(root, "/docs/reference.js", "reference.js", "text/javascript; charset=utf-8");
        Map(root, "/docs/reference.css", "reference.css", "text/css; charset=utf-8");
    }

    private static void Map(IEndpointRouteBuilder root, string path, string file, string mediaType)
    {
        var content = Read(file);
        root.MapGet(path, (HttpContext context) =>
        {
            context.Response.Headers.ContentSecurityPolicy = Policy;
            context.Response.Headers.CacheControl = "no-cache";
            return TypedResults.Bytes(content, mediaType);
        }).AllowAnonymous().ExcludeFromDescription();
    }

    private static byte[] Read(string file)
    {
        using var stream = Assembly.GetExecutingAssembly().GetManifestResourceStream(Folder + file)
            ?? throw new InvalidOperationException($"{file} is not built into the service.");
        using var copy = new MemoryStream();
        stream.CopyTo(copy);
        return copy.ToArray();
    }
}
