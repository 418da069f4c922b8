using System.Globalization;
using Microsoft.OpenApi;
using Swashbuckle.AspNetCore.Swagger;

namespace Traceability.Service.Http;

/// <summary>The text of /openapi.json, which is also the file in contracts/. Made once.</summary>
internal sealed class OpenApiText(IServiceProvider services)
{
    private readonly Lazy<string> _text = new(() => Make(services));

    /// <summary>The document: indented, lines end with a line feed, the same for the same code.</summary>
    public string Text => _text.Value;

    private static string Make(IServiceProvider services)
    {
        using var scope = services.CreateScope();
        var document = scope.ServiceProvider.GetRequiredService<ISwaggerProvider>().GetSwagger(OpenApiSetup.DocumentName);
        using var text = new StringWriter(CultureInfo.InvariantCulture) { NewLine = "\n" };
        document.SerializeAsV31(new OpenApiJsonWriter(text));
        return text.ToString().ReplaceLineEndings("\n").TrimEnd() + "\n";
    }
}
