using Traceability.Service.Http;
using Traceability.Service.Storage;

namespace Traceability.Service;

/// <summary>"contracts FOLDER": writes what other programs may rely on, without a database.</summary>
internal static class ContractsCommand
{
    /// <summary>The first argument that asks for it.</summary>
    public const string Name = "contracts";

    /// <summary>Writes the files; the exit code.</summary>
    public static async Task<int> RunAsync(string folder, CancellationToken cancellation = default)
    {
        Directory.CreateDirectory(folder);
        ContractFiles.Write(folder);
        await using var app = TraceabilityService.Describe([]);
        await File.WriteAllTextAsync(Path.Combine(folder, "openapi.json"), OpenApi(app), cancellation);
        Console.WriteLine($"Written to {Path.GetFullPath(folder)}.");
        return 0;
    }

    /// <summary>The OpenAPI document of an application that is not started.</summary>
    public static string OpenApi(WebApplication app)
    {
        // Endpoints reach the description when the pipeline is built, which is at the start otherwise.
        app.UseEndpoints(static _ => { });
        return app.Services.GetRequiredService<OpenApiText>().Text;
    }
}
