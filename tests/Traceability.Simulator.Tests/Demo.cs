using Traceability.Simulator.Plant;
using Traceability.Simulator.Truth;

namespace Traceability.Simulator.Tests;

/// <summary>The plants that several tests look at; built once.</summary>
internal static class Demo
{
    public static readonly DateTimeOffset Now = new(2026, 3, 19, 14, 20, 0, TimeSpan.Zero);

    public static readonly Lazy<PlantRun> Full = new(() => DemoPlant.Build(20, 300, Now));

    public static readonly Lazy<PlantRun> Small = new(() => DemoPlant.Build(20, DemoPlant.FinalsMin, Now));

    public static readonly Lazy<PlantAnswers> FullAnswers = new(() => Recomputation.Of(Full.Value.Facts, Full.Value.Now));
}
