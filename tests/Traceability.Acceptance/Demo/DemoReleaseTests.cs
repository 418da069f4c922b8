using Traceability.Contracts.Shipments;
using Traceability.Contracts.Units;
using Traceability.Simulator.Plant;
using Traceability.Simulator.Posting;
using Traceability.Simulator.Truth;

namespace Traceability.Acceptance.Demo;

/// <summary>What people do in the demo beside reporting: pumps are released by signature, and leave together.</summary>
public sealed class DemoReleaseTests
{
    [Fact]
    public async Task Pumps_that_are_complete_are_released_by_signature_and_those_that_are_not_say_what_is_lacking()
    {
        await using var demo = await DemoHost.StartAsync(DemoFixture.Plant(120), new PostOptions());
        Assert.NotEmpty(demo.Plant.Truth.Unsigned);
        foreach (var unit in demo.Plant.Truth.Unsigned)
        {
            Assert.Equal("in-process", demo.Answers.Units[unit].Place);
        }

        var signed = await demo.SignAsync();

        Assert.Contains(signed, s => s.Answer.IsAccepted);
        foreach (var (unit, answer) in signed)
        {
            var state = await demo.AskAsync<ReleaseState>($"/api/units/{unit}/release");
            var view = await demo.AskAsync<UnitView>($"/api/units/{unit}");
            if (!answer.IsAccepted)
            {
                Assert.Equal("release-blocked", answer.Code);
                Assert.NotEmpty(state.Blockers);
                Assert.Equal("in-process", view.Unit.Place);
                continue;
            }

            var signature = Assert.Single(state.Signatures);
            Assert.Equal((Deeds.Signer, true), (signature.Person, signature.Matches));
            Assert.Equal("in-stock", view.Unit.Place);

            // The recomputation, told of the release, says the same.
            var released = new PlantFact(
                signature.Record,
                "unit-released",
                $$$"""{"factId":"{{{signature.Record}}}","type":"unit-released","occurredAt":"{{{signature.SignedAt:O}}}","station":"QC-1","unit":{"item":"{{{unit.Split('/')[0]}}}","serial":"{{{unit.Split('/')[1]}}}"}}""",
                Senders.Quality,
                unit,
                signature.SignedAt,
                signature.SignedAt,
                TimeSpan.Zero);
            var told = Recomputation.Of([.. demo.Plant.Facts, released], signature.SignedAt).Units[unit];
            Assert.Equal(view.Unit.Place, told.Place);
            Assert.Equal(told.Findings.Select(f => f.Kind).Order(StringComparer.Ordinal), view.Findings.Select(f => f.Kind).Order(StringComparer.Ordinal));
        }

        // Asked for again under the same id, it signs nothing twice.
        var again = await demo.SignAsync();
        Assert.Equal(signed.Select(s => (s.Unit, s.Answer.IsAccepted)), again.Select(s => (s.Unit, s.Answer.IsAccepted)));

        // Those that were released leave together, once.
        string[] together = [.. signed.Where(s => s.Answer.IsAccepted).Select(s => s.Unit)];
        Assert.True((await demo.ShipAsync(together))!.IsAccepted);
        Assert.True((await demo.ShipAsync(together))!.IsAccepted);
        var left = Assert.Single((await demo.AskAsync<ShipmentPage>($"/api/shipments?order={Deeds.Order}")).Shipments);
        Assert.Equal(together.Order(StringComparer.Ordinal), left.Units.Select(u => $"{u.Unit.Item}/{u.Unit.Serial}").Order(StringComparer.Ordinal));
        Assert.Null(await demo.ShipAsync([]));
    }
}
