using System.Text.Json;
using Traceability.Simulator.Plant;

namespace Traceability.Benchmarks.Growth;

/// <summary>What the placing on shards needs to know of a fact.</summary>
/// <param name="Unit">The unit that it is about ("item/serial"); null for reference data.</param>
/// <param name="Components">Component units that it names.</param>
/// <param name="Lots">Lots that it says were used ("item/lot").</param>
/// <param name="IsRemoval">Whether it takes a component out.</param>
internal sealed record ShardedFact(string? Unit, IReadOnlyList<string> Components, IReadOnlyList<string> Lots, bool IsRemoval)
{
    public static ShardedFact Of(PlantFact fact)
    {
        using var body = fact.Parse();
        var (components, lots) = (new List<string>(), new List<string>());
        Collect(body.RootElement, components, lots);
        return new(fact.Unit, components, lots, string.Equals(fact.Type, "component-removed", StringComparison.Ordinal));
    }

    // Also what a correction puts in the place of a fact.
    private static void Collect(JsonElement at, List<string> components, List<string> lots)
    {
        if (at.ValueKind == JsonValueKind.Array)
        {
            foreach (var entry in at.EnumerateArray())
            {
                Collect(entry, components, lots);
            }
        }

        if (at.ValueKind != JsonValueKind.Object)
        {
            return;
        }

        foreach (var member in at.EnumerateObject())
        {
            if (member.NameEquals("component") && member.Value.ValueKind == JsonValueKind.Object)
            {
                components.Add($"{member.Value.GetProperty("item").GetString()}/{member.Value.GetProperty("serial").GetString()}");
            }
            else if (member.NameEquals("lots") && at.TryGetProperty("item", out var item))
            {
                lots.AddRange(member.Value.EnumerateArray().Select(l => $"{item.GetString()}/{l.GetString()}"));
            }
            else
            {
                Collect(member.Value, components, lots);
            }
        }
    }
}
