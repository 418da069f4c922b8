using Traceability.Simulator.Plant;
using Traceability.Simulator.Posting;

namespace Traceability.Acceptance.Demo;

/// <summary>The demo in one service, for all tests of a class.</summary>
public sealed class DemoFixture : IAsyncLifetime
{
    /// <summary>Finals of the whole demo, as the run command builds it.</summary>
    private const int Finals = 300;

    // A moment in the past, in the midst of a working day: the same facts on every run.
    private static readonly DateTimeOffset Stopped = new(2026, 3, 20, 14, 10, 0, TimeSpan.Zero);

    internal DemoHost Demo { get; private set; } = null!;

    /// <summary>A plant that is stopped in the midst of its work, so that some of its intervals are still running.</summary>
    internal static PlantRun Plant(int finals) => DemoPlant.Build(20, finals, Stopped);

    /// <inheritdoc />
    public async Task InitializeAsync() => Demo = await DemoHost.StartAsync(Plant(Finals), new PostOptions());

    /// <inheritdoc />
    public async Task DisposeAsync() => await Demo.DisposeAsync();
}
