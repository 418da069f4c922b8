using System.Globalization;
using Traceability.Contracts.Batches;
using Traceability.Contracts.Dispersion;
using Traceability.Contracts.Lots;
using Traceability.Contracts.Tools;
using Traceability.Simulator.Plant;

namespace Traceability.Acceptance.Demo;

/// <summary>Mixes, batches, the spread of lots, and a calibration that nobody renewed.</summary>
public sealed partial class DemoAgainstTruthTests
{
    private const string Mix = "PM-2";

    [Fact]
    public async Task What_a_mix_was_made_of_is_what_the_plant_knows_of()
    {
        var pots = _demo.Plant.Truth.Uses.Where(u => u.Item == Mix).DistinctBy(u => u.Lot).ToList();
        Assert.True(pots.Count > 100, $"{pots.Count} pots");
        foreach (var pot in pots.Where((p, i) => i % 10 == 0))
        {
            var parts = _demo.Plant.Truth.Uses.Where(u => u.Unit == pot.Unit && u.Item is "RS-1" or "HA-1").Select(u => $"{u.Item}/{u.Lot} {u.Container} mixed");
            var lineage = await _demo.AskAsync<LotLineageView>($"/api/lots/{Mix}/{pot.Lot}/lineage");
            Assert.Equal(parts.Order(StringComparer.Ordinal), lineage.Sources.Select(s => $"{s.From.Item}/{s.From.Lot} {s.Container} {s.Kind}").Order(StringComparer.Ordinal));
        }
    }

    [Fact]
    public async Task Every_oven_load_lists_the_drives_that_got_their_serials_out_of_it()
    {
        var opened = _demo.Plant.Facts.Where(f => f.Type == "unit-opened").Select(f => (f.Unit, Batch: BatchOf(f))).Where(f => f.Batch is not null).ToLookup(f => f.Batch!, f => f.Unit!, StringComparer.Ordinal);
        Assert.True(opened.Count > 50, $"{opened.Count} loads");
        var dropped = 0;
        foreach (var load in opened)
        {
            var view = await _demo.AskAsync<BatchView>($"/api/batches/DR-2/{load.Key}");
            Assert.Equal(load.Order(StringComparer.Ordinal), view.Units.Select(u => $"{u.Item}/{u.Serial}").Order(StringComparer.Ordinal));
            Assert.Equal(["started OVEN", "completed OVEN"], view.Steps.Select(s => $"{s.Kind} {s.Step}"));
            Assert.Empty(view.Findings);
            if (view.EndedAt is not null)
            {
                Assert.Equal(view.Count!.Value, load.Count() + (view.Scrapped ?? 0));
                dropped += view.Scrapped ?? 0;
            }
        }

        Assert.True(dropped > 0, "No load had a housing that was dropped.");
    }

    [Fact]
    public async Task How_widely_lots_are_spread_and_what_mixing_them_cost_is_what_follows_from_the_records()
    {
        var counted = await CountedAsync();
        var inside = _demo.Answers.Units.Values.SelectMany(u => u.Contents.Where(c => c.To is null).Select(c => (c.Component, u.Unit))).ToDictionary(c => c.Component, c => c.Unit, StringComparer.Ordinal);
        string Outermost(string unit) => inside.TryGetValue(unit, out var parent) ? Outermost(parent) : unit;
        var links = _demo.Answers.Units.Values.SelectMany(u => u.Usages.Select(x => (x.Item, x.Lot, Unit: Outermost(u.Unit)))).Distinct().ToList();
        Assert.Equal(
            links.GroupBy(l => $"{l.Item}/{l.Lot}", StringComparer.Ordinal).Select(g => $"{g.Key} {g.Count()}").Order(StringComparer.Ordinal),
            counted.Lots.Select(l => $"{l.Item}/{l.Lot} {l.FinishedUnits}").Order(StringComparer.Ordinal));
        Assert.Equal(
            links.GroupBy(l => l.Item, StringComparer.Ordinal).Select(g => Spread(g.Key, g.Select(l => l.Lot).Distinct(StringComparer.Ordinal).Count(), g.Select(l => l.Unit).Distinct(StringComparer.Ordinal).Count(), g.Count())).Order(StringComparer.Ordinal),
            counted.Items.Select(i => $"{i.Item} {i.Lots} lots {i.FinishedUnits} units {i.Links} links, {i.LinksByMixing} by mixing").Order(StringComparer.Ordinal));

        // Grease goes into a head, and days later, from another lot, into the pump that the head is in.
        Assert.True(counted.Items.Single(i => i.Item == "GRS-4").LinksByMixing > 20);
    }

    [Fact]
    public async Task A_gauge_whose_calibration_nobody_renewed_is_due()
    {
        var life = await _demo.AskAsync<ToolLifeView>("/api/tools/DG-2/life");
        Assert.Equal("due", life.Condition);
        Assert.True(life.DueAt < _demo.Plant.Now);
        Assert.Empty(_demo.Answers.UsesOf("DG-2"));
    }

    // Lots used up one after another make at most lots + units − 1 links.
    private static string Spread(string item, int lots, int units, int links) => string.Create(
        CultureInfo.InvariantCulture, $"{item} {lots} lots {units} units {links} links, {Math.Max(0, links - (lots + units - 1))} by mixing");

    private static string? BatchOf(PlantFact fact)
    {
        using var body = fact.Parse();
        return body.RootElement.TryGetProperty("batch", out var batch) ? batch.GetString() : null;
    }

    private async Task<LotDispersions> CountedAsync()
    {
        for (var tries = 0; tries < 300; tries++)
        {
            var answer = await _demo.AskAsync<LotDispersions>("/api/lots/dispersion?limit=1000");
            if (answer is { IsCurrent: true, Lots.Count: > 0 })
            {
                Assert.Null(answer.After);
                return answer;
            }

            await Task.Delay(TimeSpan.FromMilliseconds(200));
        }

        throw new TimeoutException("The lots were not counted within a minute.");
    }
}
