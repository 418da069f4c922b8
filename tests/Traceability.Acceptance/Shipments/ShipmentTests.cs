using System.Net.Http.Json;
using System.Text.Json;
using Traceability.Acceptance.Rebuilds;
using Traceability.Acceptance.Releases;
using Traceability.Acceptance.Robustness;
using Traceability.Contracts;
using Traceability.Contracts.Shipments;
using Traceability.Contracts.Units;
using Traceability.Testing;

namespace Traceability.Acceptance.Shipments;

/// <summary>May these units leave together, and what left to whom under which order?</summary>
public sealed class ShipmentTests : IAsyncLifetime
{
    private ServiceHost host = null!;
    private Lamps lamps = null!;

    public async Task InitializeAsync()
    {
        host = await ServiceHost.StartAsync();
        lamps = new(host, 91);
        await lamps.DefineAsync();
    }

    public async Task DisposeAsync() => await host.DisposeAsync();

    [Fact]
    public async Task Released_lamps_leave_together_and_are_listed_by_consignee_and_order()
    {
        await ReleasedAsync(1, 2, 3);
        var id = lamps.Works.Id();
        var (status, body) = await ShipAsync(id, 1, 2);
        Assert.True(status == 201, body.ToString());
        var receipt = Read<ShipmentReceipt>(body);
        Assert.Equal((id, false, 2, 2), (receipt.ShipmentId, receipt.IsRepeat, receipt.Units.Count, receipt.Units.Select(u => u.FactId).Distinct().Count()));
        var view = await lamps.AskAsync<UnitView>("/api/units/LAMP/1");
        Assert.Equal(("shipped", "Fell End Supplies"), (view.Unit.Place, view.Unit.Consignee));
        Assert.Empty(view.Findings);

        // The answer was lost: the same again is answered as before; another one with its id is refused, also where no unit is in both.
        var (repeated, again) = await ShipAsync(id, 1, 2);
        Assert.Equal((200, true), (repeated, Read<ShipmentReceipt>(again).IsRepeat));
        Assert.Equal(receipt.Units.Select(u => (u.FactId, u.Version)), Read<ShipmentReceipt>(again).Units.Select(u => (u.FactId, u.Version)));
        Assert.Equal("fact-id-reused", Code(await ShipAsync(id, 1)));
        Assert.Equal("fact-id-reused", Code(await ShipAsync(id, 3)));

        // One more is reported alone, under the same order; one comes back.
        await lamps.TellAsync(
            lamps.Works.Fact("unit-shipped", 5_000, LampWorks.Unit("LAMP", 3) + ""","consignee":"Fell End Supplies","orderReference":"O-7" """));
        await lamps.TellAsync(Now("unit-returned", LampWorks.Unit("LAMP", 2) + ""","reason":"Dim" """));
        var page = await ListAsync("order=O-7");
        Assert.Equal([(id, 2), ((Guid?)null, 1)], page.Shipments.Select(s => (s.ShipmentId, s.Units.Count)));
        Assert.Equal([("1", false), ("2", true)], page.Shipments[0].Units.Select(u => (u.Unit.Serial, u.ReturnedAt is not null)));
        Assert.Equal(2, (await ListAsync("consignee=Fell%20End%20Supplies")).Shipments.Count);
        Assert.Empty((await ListAsync("consignee=Fell%20End%20Supplies&order=O-8")).Shipments);

        // Page by page, with one on each, it is the same list.
        var first = await ListAsync("order=O-7&limit=1");
        var second = await ListAsync($"order=O-7&limit=1&after={first.After}");
        Assert.Equal(page.Shipments.Select(s => s.At), [.. first.Shipments.Select(s => s.At), .. second.Shipments.Select(s => s.At)]);
        Assert.Null(second.After);

        // A unit whose record is corrected to another consignee is listed there.
        var shipped = receipt.Units[0];
        await lamps.TellAsync(lamps.Works.Fact("record-corrected", 6_000, $$"""
            "record":"{{shipped.FactId}}","reason":"Other door","authorisedBy":"P-9","replacement":{"type":"unit-shipped","occurredAt":"{{lamps.Works.Time(5_500)}}",{{LampWorks.Unit("LAMP", 1)}},"consignee":"Other End Supplies","orderReference":"O-7"}
            """));
        Assert.Equal(["1"], (await ListAsync("consignee=Other%20End%20Supplies")).Shipments.SelectMany(s => s.Units).Select(u => u.Unit.Serial));
        Assert.Equal(["2"], (await ListAsync("consignee=Fell%20End%20Supplies")).Shipments[0].Units.Select(u => u.Unit.Serial));
        await RebuildClient.RequireFreshAsync(host.Database);
        RebuildClient.RequireEqual(await RebuildClient.RunAsync(host.Admin));
    }

    [Fact]
    public async Task One_lamp_that_may_not_leave_keeps_all_back_and_each_is_told_with_why()
    {
        await ReleasedAsync(1, 2, 3);
        await lamps.TellAsync(
            [.. lamps.Works.SimpleLamp(4, 0), Now("unit-held", LampWorks.Unit("LAMP", 2) + ""","reason":"Doubt" """), Now("unit-held", LampWorks.Unit("HEAD", 3) + ""","reason":"Haze" """)]);
        var (status, body) = await ShipAsync(lamps.Works.Id(), 1, 2, 3, 4);
        Assert.Equal((409, "shipment-blocked"), (status, body.GetProperty("code").GetString()));
        var blocked = JsonSerializer.Deserialize<BlockedUnitView[]>(body.GetProperty("blocked"), WireJson.Options)!;
        Assert.Equal(
            ["2 LAMP on-hold", "3 HEAD on-hold", "4 LAMP not-released"],
            blocked.Select(b => $"{b.Unit.Serial} {b.Blockers[0].Unit.Item} {b.Blockers[0].Code}"));
        Assert.Contains(blocked[2].Blockers, b => b is { Code: "step-not-done", Rule: "TEST" });
        Assert.Equal(["/units/1", "/units/2", "/units/3"], body.GetProperty("errors").EnumerateArray().Select(e => e.GetProperty("pointer").GetString()));
        Assert.Equal("in-stock", (await lamps.AskAsync<UnitView>("/api/units/LAMP/1")).Unit.Place);
        Assert.Equal(0, await Tables.CountAsync(host.Database, "traceability.shipment"));

        // A late fact about a released lamp counts, too: its last test failed after all.
        await lamps.TellAsync(lamps.Test(1, 45, passed: false));
        var (_, late) = await ShipAsync(lamps.Works.Id(), 1);
        Assert.Equal("step-not-passed", late.GetProperty("blocked")[0].GetProperty("blockers")[0].GetProperty("code").GetString());
    }

    [Fact]
    public async Task Of_many_shipments_at_once_that_share_lamps_each_lamp_leaves_with_one_and_none_is_half_done()
    {
        const int Count = 8;
        await ReleasedAsync([.. Enumerable.Range(1, Count)]);
        var dice = new Dice(5);
        var asked = Enumerable.Range(0, 24).Select(_ => dice.Shuffled(Enumerable.Range(1, Count)).Take(3).ToArray()).ToArray();
        var answers = await Task.WhenAll(asked.Select(units => ShipAsync(lamps.Works.Id(), units)));

        Assert.All(answers, a => Assert.True(a.Status is 201 || Code(a) == "shipment-blocked", a.Body.ToString()));
        var left = asked.Where((_, i) => answers[i].Status == 201).SelectMany(u => u).ToArray();
        Assert.NotEmpty(left);
        Assert.Equal(left.Distinct().Count(), left.Length);
        var stored = (await ListAsync("order=O-7")).Shipments;
        Assert.Equal(left.Length / 3, stored.Count);
        Assert.All(stored, s => Assert.Equal(3, s.Units.Count));
        Assert.Equal(left.Length, await Tables.CountAsync(host.Database, "traceability.shipment"));
    }

    private async Task ReleasedAsync(params int[] serials)
    {
        foreach (var serial in serials)
        {
            await lamps.TellAsync(lamps.Complete(serial, 0));
            Assert.Equal(201, (await lamps.ReleaseAsync(serial, lamps.Works.Id())).Status);
        }
    }

    private Task<(int Status, JsonElement Body)> ShipAsync(Guid id, params int[] serials) => Lamps.SendAsync(host.Quality.PostAsJsonAsync(
        "/api/shipments",
        new { shipmentId = id, consignee = "Fell End Supplies", orderReference = "O-7", person = "P-9", units = serials.Select(s => new { item = "LAMP", serial = $"{s}" }) }));

    private Task<ShipmentPage> ListAsync(string query) => lamps.AskAsync<ShipmentPage>($"/api/shipments?{query}");

    // A fact of this moment, since what the service decides happens then.
    private Sent Now(string type, string members)
    {
        var sent = lamps.Works.Fact(type, 0, members);
        return sent with { Json = LampWorks.With(sent.Json, "occurredAt", TimeProvider.System.GetUtcNow().ToString("yyyy-MM-dd'T'HH:mm:ss.fffzzz", System.Globalization.CultureInfo.InvariantCulture)) };
    }

    private static string Code((int Status, JsonElement Body) answer) => answer.Body.TryGetProperty("code", out var code) ? code.GetString()! : string.Empty;

    private static T Read<T>(JsonElement body) => JsonSerializer.Deserialize<T>(body, WireJson.Options)!;
}
