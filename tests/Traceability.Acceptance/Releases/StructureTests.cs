using Traceability.Acceptance.Robustness;
using Traceability.Contracts.Units;
using Traceability.Testing;

namespace Traceability.Acceptance.Releases;

/// <summary>What was in this lamp when it left, what is in it now, and what did we think last week?</summary>
public sealed class StructureTests
{
    [Fact]
    public async Task As_built_as_maintained_and_as_known_are_all_answerable_after_a_repair()
    {
        await using var host = await ServiceHost.StartAsync("--Signing:Iterations=10000");
        var lamps = new Lamps(host, 79);
        var works = lamps.Works;
        var lamp = LampWorks.Unit("LAMP", 1);
        const string swap = ""","position":"HEAD","component":{"item":"HEAD","serial":""";
        await lamps.DefineAsync();
        await lamps.TellAsync([.. lamps.Complete(1, 0), .. lamps.Head(2, 0), works.Fact("unit-released", 100, lamp), works.Fact("unit-shipped", 200, lamp + ""","consignee":"Fell End Supplies" """)]);
        var known = (await lamps.AskAsync<StructureView>("/api/units/LAMP/1/structure")).AsOf;
        await Task.Delay(20);
        await lamps.TellAsync(
        [
            works.Fact("unit-returned", 1_000, lamp + ""","reason":"dim" """),
            works.Fact("component-removed", 1_010, lamp + swap + "\"1\"}"),
            works.Fact("component-installed", 1_020, lamp + swap + "\"2\"},\"step\":\"MARRY\""),
        ]);

        Assert.Equal("shipped: HEAD 1; ADH/L1", await ShownAsync($"asOf={Time(300)}"));
        Assert.Equal("in-stock: HEAD 1; ADH/L1", await ShownAsync("asBuilt=true"));
        Assert.Equal("returned: HEAD 2; ADH/L1", await ShownAsync(string.Empty));
        Assert.Equal("returned: ; ADH/L1", await ShownAsync($"asOf={Time(1_015)}"));
        Assert.Equal("in-process: ; ", await ShownAsync($"asOf={Time(1)}"));

        // The swap happened before, and nobody had told it yet.
        Assert.Equal("shipped: HEAD 1; ADH/L1", await ShownAsync($"knownAt={Uri.EscapeDataString(known.ToString("O"))}"));

        var built = await lamps.AskAsync<StructureView>("/api/units/LAMP/1/structure?asBuilt=true");
        var head = Assert.Single(built.Unit.Components);
        Assert.Equal("ADH/L1", string.Join(',', head.Inside!.Lots.Select(l => $"{l.Item}/{l.Lot}")));
        Assert.True(built.IsComplete);

        string Time(double minutes) => Uri.EscapeDataString(works.Time(minutes));

        async Task<string> ShownAsync(string query)
        {
            var unit = (await lamps.AskAsync<StructureView>($"/api/units/LAMP/1/structure{(query.Length == 0 ? string.Empty : "?")}{query}")).Unit;
            return $"{unit.Place}: {string.Join(',', unit.Components.Select(c => $"{c.Unit.Item} {c.Unit.Serial}"))}; {string.Join(',', unit.Lots.Select(l => $"{l.Item}/{l.Lot}"))}";
        }
    }
}
