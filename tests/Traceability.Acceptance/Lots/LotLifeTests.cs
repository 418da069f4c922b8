using System.Net;
using System.Net.Http.Headers;
using System.Text;
using System.Text.Json;
using Traceability.Contracts;
using Traceability.Contracts.Definitions;
using Traceability.Contracts.Lots;
using Traceability.Contracts.Scope;
using Traceability.Testing;

namespace Traceability.Acceptance.Lots;

/// <summary>The whole life of a lot of paste that a cap is filled with: received, inspected, split, merged, used, doubted, counted, re-certified.</summary>
public sealed class LotLifeTests
{
    private const string File = """
        asOf: 2026-01-05T08:00:00Z
        sites: [ { site: SHED, description: Shed, timeZone: Atlantic/Azores } ]
        stations: [ { station: TABLE, site: SHED, description: Table } ]
        items:
          - { item: CAP, kind: product, description: Filled cap }
          - { item: PASTE, kind: consumable, description: Paste, needsInspection: true }
        people: [ { person: P-1, displayName: Filler }, { person: P-9, displayName: Quality } ]
        routings:
          - item: CAP
            revision: "1"
            description: First
            release: true
            steps:
              - code: FILL
                name: Fill the cap
                materials: [ { code: PASTE, item: PASTE, tracing: lot, quantityMin: { value: 2, unit: g } } ]
        """;

    private int _facts;

    [Fact]
    public async Task A_lot_is_received_inspected_split_merged_used_doubted_counted_and_answered_for()
    {
        await using var service = await ServiceHost.StartAsync();
        using (var content = new StringContent(File, Encoding.UTF8, new MediaTypeHeaderValue("application/yaml")))
        using (var answer = await service.Admin.PostAsync(new Uri("/api/master-data", UriKind.Relative), content))
        {
            Assert.True(answer.IsSuccessStatusCode, await answer.Content.ReadAsStringAsync());
        }

        await InspectAsync(service);
        await UseAsync(service);
        await TraceAsync(service);
        await DoubtAsync(service);
        await CountAsync(service);
        await ExtendAsync(service);
    }

    private async Task InspectAsync(ServiceHost service)
    {
        await PostAsync(service, 1, """ "type":"lot-received","lot":{"item":"PASTE","lot":"P1"},"supplierLot":"S-77","supplier":"Northgate","quantity":{"value":100,"unit":"g"},"expiresAt":"2026-02-10T00:00:00Z","isReleased":false """);
        Assert.Equal("awaiting-inspection", (await LotAsync(service, "P1")).State);
        await RefuseAsync(service, 2, "lot-not-inspected", """ "type":"lot-released","lot":{"item":"PASTE","lot":"P1"} """);
        await PostAsync(service, 3, """ "type":"lot-inspected","lot":{"item":"PASTE","lot":"P1"},"accepted":false,"note":"Lumps" """);
        await RefuseAsync(service, 4, "lot-rejected", """ "type":"lot-released","lot":{"item":"PASTE","lot":"P1"} """);
        await PostAsync(service, 5, """ "type":"lot-inspected","lot":{"item":"PASTE","lot":"P1"},"accepted":true,"sampleCount":2,"results":[{"characteristic":"LUMPS","passed":true}],"certificate":"C-9" """);
        await PostAsync(service, 6, """ "type":"lot-released","lot":{"item":"PASTE","lot":"P1"} """);
        await PostAsync(service, 7, """ "type":"lot-received","lot":{"item":"PASTE","lot":"P2"},"supplierLot":"S-77","supplier":"Northgate","quantity":{"value":50,"unit":"g"},"isReleased":true """);
        await PostAsync(service, 8, """ "type":"lot-inspected","lot":{"item":"PASTE","lot":"P2"},"accepted":true """);
        var lot = await LotAsync(service, "P1");
        Assert.Equal(("released", true, "Northgate"), (lot.State, lot.IsReleased, lot.Supplier));
        Assert.Equal([false, true], lot.Inspections.Select(i => i.Accepted));
    }

    private async Task UseAsync(ServiceHost service)
    {
        await PostAsync(service, 10, """ "type":"lot-split","lot":{"item":"PASTE","lot":"P1A"},"source":{"lot":{"item":"PASTE","lot":"P1"},"quantity":{"value":40,"unit":"g"}} """);
        await PostAsync(service, 11, """ "type":"lot-merged","lot":{"item":"PASTE","lot":"MIX"},"sources":[{"lot":{"item":"PASTE","lot":"P1A"},"quantity":{"value":10,"unit":"g"}},{"lot":{"item":"PASTE","lot":"P2"},"quantity":{"value":20,"unit":"g"}}] """);
        (string Lot, string Quantity)[] uses = [("P1", "2.5,\"unit\":\"g\""), ("P1A", "2500,\"unit\":\"mg\""), ("MIX", "2,\"unit\":\"g\""), ("P2", "2,\"unit\":\"g\"")];
        for (var n = 0; n < uses.Length; n++)
        {
            await PostAsync(service, 20 + n, $$""" "type":"unit-opened","unit":{"item":"CAP","serial":"{{n + 1}}"} """);
            var receipt = await PostAsync(service, 30 + n, $$$""" "type":"step-completed","unit":{"item":"CAP","serial":"{{{n + 1}}}"},"step":"FILL","materials":[{"item":"PASTE","lots":["{{{uses[n].Lot}}}"],"quantity":{"value":{{{uses[n].Quantity}}} }}] """);
            Assert.Empty(receipt.Findings);
        }

        Assert.Equal(1, (await LotAsync(service, "MIX")).UsingUnits);
        Assert.Equal(["PASTE/P1A", "PASTE/P2"], (await LotAsync(service, "MIX")).MadeOf);
    }

    private static async Task TraceAsync(ServiceHost service)
    {
        var scope = await AskAsync<ScopeAnswer>(service, "/api/lots/PASTE/P1/scope?include=cleared");
        Assert.Equal([("1", "proven", "recorded"), ("2", "proven", "sublot"), ("3", "possible", "mixed-lot")], scope.Members.Select(m => (m.Serial, m.Verdict, m.Path[0].Kind)));
        Assert.Equal("4", Assert.Single(scope.Cleared!).Serial);
        Assert.Contains("every draw of it is of lot PASTE/P1", scope.Members[1].Reason, StringComparison.Ordinal);

        var lineage = await AskAsync<LotLineageView>(service, "/api/lots/PASTE/MIX/lineage");
        Assert.Equal(["P1>P1A split", "P1A>MIX merged", "P2>MIX merged"], lineage.Sources.Select(l => $"{l.From.Lot}>{l.Into.Lot} {l.Kind}").Order(StringComparer.Ordinal));
        Assert.Empty(lineage.Derived);

        var own = await AskAsync<List<LotView>>(service, "/api/supplier-lots?supplierLot=S-77&supplier=Northgate");
        Assert.Equal(["P1", "P2"], own.Select(l => l.Lot));
        var all = await AskAsync<SupplierLotScope>(service, "/api/supplier-lots/scope?supplierLot=S-77&limit=3");
        Assert.Equal((4, 3, 1, 0), (all.Totals.Members, all.Totals.Proven, all.Totals.Possible, all.Totals.Cleared));
        Assert.Equal(["PASTE/P1", "PASTE/P2"], all.Members[2].Lots);
        Assert.Equal("CAP/3", all.After);
    }

    // Something is found out later about the lot that the others came from: the units that used those are judged again.
    private async Task DoubtAsync(ServiceHost service)
    {
        await PostAsync(service, 25, """ "type":"lot-quarantined","lot":{"item":"PASTE","lot":"P1"},"reason":"Complaint" """);
        await UntilAsync(service, "CAP/1 CAP/2 CAP/3");
        Assert.Equal("quarantined", (await LotAsync(service, "MIX")).State);
        await PostAsync(service, 26, """ "type":"lot-released","lot":{"item":"PASTE","lot":"P1"} """);
        await UntilAsync(service, string.Empty);
    }

    private async Task CountAsync(ServiceHost service)
    {
        var before = await AskAsync<LotBalanceView>(service, "/api/lots/PASTE/P1/balance");
        Assert.Null(before.UnexplainedMost);
        Assert.Contains(before.Obstacles, o => o.Contains("never counted", StringComparison.Ordinal));

        // 100 − 40 − 2.5 − 50 = 7.5 g, three caps at 2 g.
        await PostAsync(service, 40, """ "type":"stock-counted","lot":{"item":"PASTE","lot":"P1"},"quantity":{"value":0.05,"unit":"kg"} """);
        var balance = await AskAsync<LotBalanceView>(service, "/api/lots/PASTE/P1/balance");
        Assert.Equal((100m, 40m, 2.5m, 50m, 7.5m, 3L), (balance.Received, balance.SplitOff, balance.UsedLeast, balance.OnHand, balance.UnexplainedMost, balance.UnitsMost));
        Assert.Empty(balance.Obstacles);
    }

    private async Task ExtendAsync(ServiceHost service)
    {
        await RefuseAsync(service, 41, "expiry-not-extended", """ "type":"lot-recertified","lot":{"item":"PASTE","lot":"P1"},"expiresAt":"2026-02-09T00:00:00Z","evidence":"Report 17","authorisedBy":"P-9" """);
        await PostAsync(service, 42, """ "type":"lot-recertified","lot":{"item":"PASTE","lot":"P1"},"expiresAt":"2026-03-10T00:00:00Z","evidence":"Report 17","authorisedBy":"P-9" """);
        var lot = await LotAsync(service, "P1");
        Assert.Equal(["received", "recertified"], lot.Expiries.Select(e => e.Kind));
        Assert.Equal(new DateTimeOffset(2026, 3, 10, 0, 0, 0, TimeSpan.Zero), lot.ExpiresAt);
        Assert.Equal(new DateTimeOffset(2026, 2, 10, 0, 0, 0, TimeSpan.Zero), (await LotAsync(service, "P1A")).ExpiresAt);
        await PostAsync(service, 43, """ "type":"lot-emptied","lot":{"item":"PASTE","lot":"P1"},"discarded":{"value":50,"unit":"g"} """);
        Assert.Equal("emptied", (await LotAsync(service, "P1")).State);
        Assert.Equal(7.5m, (await AskAsync<LotBalanceView>(service, "/api/lots/PASTE/P1/balance")).UnexplainedMost);
    }

    private static Task<LotView> LotAsync(ServiceHost service, string lot) => AskAsync<LotView>(service, $"/api/lots/PASTE/{lot}");

    private static async Task UntilAsync(ServiceHost service, string units)
    {
        var found = string.Empty;
        for (var tries = 0; tries < 300; tries++)
        {
            await using var command = service.Database.CreateCommand("select coalesce(string_agg(distinct unit, ' ' order by unit), '') from traceability.finding where kind = 'lot-not-released'");
            found = (string)(await command.ExecuteScalarAsync())!;
            if (string.Equals(found, units, StringComparison.Ordinal))
            {
                return;
            }

            await Task.Delay(100);
        }

        Assert.Equal(units, found);
    }

    private async Task<FactReceipt> PostAsync(ServiceHost service, int minute, string members)
    {
        using var answer = await SendAsync(service, minute, members);
        var text = await answer.Content.ReadAsStringAsync();
        Assert.True(answer.IsSuccessStatusCode, text);
        return JsonSerializer.Deserialize<FactReceipt>(text, WireJson.Options)!;
    }

    private async Task RefuseAsync(ServiceHost service, int minute, string code, string members)
    {
        using var answer = await SendAsync(service, minute, members);
        var text = await answer.Content.ReadAsStringAsync();
        Assert.Equal((HttpStatusCode.Conflict, code), (answer.StatusCode, JsonSerializer.Deserialize<JsonElement>(text).GetProperty("code").GetString()));
    }

    private async Task<HttpResponseMessage> SendAsync(ServiceHost service, int minute, string members)
    {
        var json = $$"""{"factId":"7c1f9a10-0000-4000-8000-{{++_facts:000000000000}}","occurredAt":"2026-02-02T08:{{minute:00}}:00Z","station":"TABLE","person":"P-1",{{members}}}""";
        using var content = new StringContent(json, Encoding.UTF8, new MediaTypeHeaderValue("application/json"));
        return await service.Admin.PostAsync(new Uri("/api/facts", UriKind.Relative), content);
    }

    private static async Task<T> AskAsync<T>(ServiceHost service, string path)
    {
        using var answer = await service.Admin.GetAsync(new Uri(path, UriKind.Relative));
        var text = await answer.Content.ReadAsStringAsync();
        Assert.True(answer.IsSuccessStatusCode, text);
        return JsonSerializer.Deserialize<T>(text, WireJson.Options)!;
    }
}
