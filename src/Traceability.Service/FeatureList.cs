namespace Traceability.Service;

/// <summary>The list of features: nothing is discovered by scanning.</summary>
internal static class FeatureList
{
    /// <summary>Adds every feature's services.</summary>
    public static void Add(WebApplicationBuilder builder)
    {
    }

    /// <summary>Maps every feature's endpoints.</summary>
    public static void Map(WebApplication app)
    {
    }

    /// <summary>What must be there before the first request.</summary>
    public static Task StartAsync(WebApplication app, string dataFolder, CancellationToken cancellation) => Task.CompletedTask;
}
