using System.Globalization;
using Traceability.Benchmarks.Growth;
using Traceability.Simulator.Plant;
using Xunit;

namespace Traceability.Simulator.Tests;

/// <summary>The counts of what would cross between shards: the same everywhere, and right where they can be counted by hand.</summary>
public sealed class ShardSimulationTests
{
    private static readonly DateTimeOffset Now = DateTimeOffset.Parse("2026-06-30T16:00:00+00:00", CultureInfo.InvariantCulture);

    // On two shards A and B lie together, C lies apart: asserted below.
    private const string A = "SUB-1/1";
    private static readonly string B = Find(same: true, "SUB-1");
    private static readonly string C = Find(same: false, "FINAL-1");

    [Fact]
    public void A_unit_lies_on_the_same_shard_on_every_machine()
    {
        // Own reference: worked out apart from this code from the published algorithms (FNV-1a 64 bit, SplitMix64's finishing steps).
        Assert.Equal([1, 1, 9, 11], new[] { "FP-2/000123", "DR-2/D0001", "LAMP-4/500000000", string.Empty }.Select(u => ShardSimulation.ShardOf(u, 16)));
    }

    [Fact]
    public void Shards_are_filled_nearly_evenly()
    {
        var on = Enumerable.Range(0, 16_000).CountBy(i => ShardSimulation.ShardOf($"LAMP-4/{500_000_000 + i}", 16)).ToList();
        Assert.Equal(16, on.Count);

        // 1,000 expected on each, with a deviation of 31: five of them.
        Assert.All(on, s => Assert.InRange(s.Value, 845, 1_155));
    }

    [Fact]
    public void The_same_plant_gives_the_same_figures()
    {
        var first = ShardSimulation.Run(Plant(), 8);
        Assert.Equal(first, ShardSimulation.Run(Plant(), 8));
        Assert.True(first.CrossingInstalls > 0 && first.OneShard < first.UnitFacts, "Something must cross, else this shows nothing.");
    }

    [Fact]
    public void On_one_shard_nothing_crosses()
    {
        var figures = ShardSimulation.Run(Plant(), 1);
        Assert.Equal((figures.UnitFacts, figures.UnitFacts, 0), (figures.OneShard, figures.ShardsTouched, figures.CrossingInstalls));
        Assert.Equal(figures.Scope.Rounds, figures.Scope.AskedByParent);
        Assert.Equal(figures.Scope.Rounds, figures.Scope.AskedByComponent);
    }

    [Fact]
    public void What_is_found_does_not_depend_on_the_number_of_shards()
    {
        var facts = Plant();
        var one = ShardSimulation.Run(facts, 1);
        Assert.All(new[] { 2, 4, 8, 16 }, k =>
        {
            var more = ShardSimulation.Run(facts, k);
            Assert.Equal((one.Scope.Members, one.Scope.Rounds, one.Scope.Rows), (more.Scope.Members, more.Scope.Rounds, more.Scope.Rows));
            Assert.InRange(more.OneShard, 1, more.UnitFacts - 1);
            Assert.InRange(more.Scope.AskedByComponent, one.Scope.Rounds, more.Scope.AskedByParent);
        });
    }

    [Fact]
    public void An_install_crosses_exactly_when_its_component_lies_elsewhere()
    {
        var together = ShardSimulation.Run([Fact(A, components: [B])], 2);
        Assert.Equal((1, 1, 1, 0), (together.OneShard, together.ShardsTouched, together.Installs, together.CrossingInstalls));
        var apart = ShardSimulation.Run([Fact(C, components: [A])], 2);
        Assert.Equal((0, 2, 1, 1), (apart.OneShard, apart.ShardsTouched, apart.Installs, apart.CrossingInstalls));
    }

    [Fact]
    public void A_fact_about_an_installed_component_touches_the_shard_of_what_it_is_in()
    {
        Assert.Equal(1, ShardSimulation.Run([Fact(A)], 2).OneShard);
        Assert.Equal(2, ShardSimulation.Run([Fact(A), Fact(A)], 2).OneShard);
        Assert.Equal(0, ShardSimulation.Run([Fact(C, components: [A]), Fact(A)], 2).OneShard);
    }

    [Fact]
    public void A_scope_asks_once_for_the_lot_and_once_for_each_level()
    {
        // The lot is in A, A in B, B in C: three levels, and the last is asked too, to learn that it is in nothing.
        var scope = ShardSimulation.Run([Fact(A, lots: ["RESIN-1/L1"]), Fact(B, components: [A]), Fact(C, components: [B])], 2).Scope;
        Assert.Equal(new(Members: 3, Rounds: 4, RoundsMax: 4, AskedByParent: 8, AskedByComponent: 2 + 1 + 1 + 1, Rows: 1 + 2 + 3), scope);
    }

    [Fact]
    public void A_ring_of_installations_ends()
    {
        var scope = ShardSimulation.Run([Fact(A, components: [B], lots: ["RESIN-1/L1"]), Fact(B, components: [A])], 4).Scope;
        Assert.Equal(2, scope.Members);
    }

    [Fact]
    public void What_a_correction_puts_in_place_is_read_too()
    {
        var fact = ShardedFact.Of(new(
            Guid.Empty,
            "record-corrected",
            """{"type":"record-corrected","replacement":{"materials":[{"item":"ADH-1","lots":["L7","L8"]}],"components":[{"position":"DRIVE","component":{"item":"DR-2","serial":"D0001"}}]}}""",
            Senders.Quality,
            "FP-2/000123",
            Now,
            Now,
            TimeSpan.Zero));
        Assert.Equal(["DR-2/D0001"], fact.Components);
        Assert.Equal(["ADH-1/L7", "ADH-1/L8"], fact.Lots);
    }

    private static ShardedFact[] Plant() => [.. DemoPlant.Build(7, 60, Now).Facts.Select(ShardedFact.Of)];

    private static ShardedFact Fact(string unit, string[]? components = null, string[]? lots = null) =>
        new(unit, components ?? [], lots ?? [], IsRemoval: false);

    private static string Find(bool same, string item) => Enumerable.Range(2, 100)
        .Select(i => $"{item}/{i.ToString(CultureInfo.InvariantCulture)}")
        .First(u => ShardSimulation.ShardOf(u, 2) == ShardSimulation.ShardOf(A, 2) == same);
}
