using Traceability.Service;

namespace Traceability.Benchmarks.Servers;

/// <summary>The service as it is shipped, in a process of its own.</summary>
internal static class ServiceServer
{
    public const string Name = "serve";

    public static async Task<int> RunAsync(string[] args)
    {
        await using var service = await TraceabilityService.CreateAsync(args);
        await service.App.RunAsync();
        return 0;
    }
}
