using Traceability.Simulator.Plant;
using Traceability.Simulator.Posting;

namespace Traceability.Acceptance.Demo;

/// <summary>The demo in one service, for all tests of a class.</summary>
public sealed class DemoFixture : IAsyncLifetime
{
    /// <summary>Finals of the whole demo, as the run command builds it.</summary>
    private const int Finals = 300;

    internal DemoHost Demo { get; private set; } = null!;

    /// <summary>A plant that ends now, so that some of its intervals are still running.</summary>
    internal static PlantRun Plant(int finals) => DemoPlant.Build(20, finals, TimeProvider.System.GetUtcNow());

    /// <inheritdoc />
    public async Task InitializeAsync() => Demo = await DemoHost.StartAsync(Plant(Finals), new PostOptions());

    /// <inheritdoc />
    public async Task DisposeAsync() => await Demo.DisposeAsync();
}
