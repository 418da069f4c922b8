using System.Net.Http.Headers;
using System.Text;
using System.Text.Json;
using Traceability.Contracts;
using Traceability.Contracts.Dispersion;
using Traceability.Contracts.Lots;
using Traceability.Contracts.Narrowing;
using Traceability.Contracts.Scope;
using Traceability.Testing;

namespace Traceability.Acceptance.Narrowing;

/// <summary>A lot of paste is bad. Which caps and boxes, what would make them fewer, and does the paste add up?</summary>
public sealed class NarrowingTests
{
    private const string File = """
        asOf: 2026-01-05T08:00:00Z
        sites: [ { site: SHED, description: Shed, timeZone: Atlantic/Azores } ]
        stations: [ { station: TABLE, site: SHED, description: Table }, { station: BENCH, site: SHED, description: Bench } ]
        items:
          - { item: CAP, kind: subassembly, description: Filled cap }
          - { item: BOX, kind: product, description: Box }
          - { item: PASTE, kind: consumable, description: Paste }
        people: [ { person: P-1, displayName: Filler }, { person: P-9, displayName: Quality } ]
        routings:
          - item: CAP
            revision: "1"
            description: First
            release: true
            steps:
              - code: FILL
                name: Fill the cap
                materials: [ { code: PASTE, item: PASTE, tracing: lot } ]
          - item: BOX
            revision: "1"
            description: First
            release: true
            steps:
              - code: PACK
                name: Pack the cap
                components: [ { position: CAP, item: CAP } ]
        """;

    private int _facts;

    [Fact]
    public async Task A_bad_lot_is_narrowed_by_the_facts_that_clear_most_and_its_paste_is_accounted_for()
    {
        await using var service = await ServiceHost.StartAsync("--Dispersion:Pause=00:00:00.1");
        using (var content = new StringContent(File, Encoding.UTF8, new MediaTypeHeaderValue("application/yaml")))
        using (var answer = await service.Admin.PostAsync(new Uri("/api/master-data", UriKind.Relative), content))
        {
            Assert.True(answer.IsSuccessStatusCode, await answer.Content.ReadAsStringAsync());
        }

        var missing = await BuildAsync(service);
        await NarrowAsync(service);
        await NarrowWorkAsync(service);
        await ReconcileAsync(service, openUnits: 3, beyond: 10m);
        await RecordAsync(service, missing);
        await ReconcileAsync(service, openUnits: 2, beyond: 12m);
        await SpreadAsync(service);
    }

    // Caps 1 and 2 name P1, 3, 4 and 6 name nothing, 5 names P2. Cap 3 is in box A, 5 in box B; 6 has left.
    private async Task<string> BuildAsync(ServiceHost service)
    {
        await PostAsync(service, 1, """ "type":"lot-received","lot":{"item":"PASTE","lot":"P1"},"quantity":{"value":20,"unit":"g"},"isReleased":true """);
        await PostAsync(service, 2, """ "type":"lot-received","lot":{"item":"PASTE","lot":"P2"},"quantity":{"value":20,"unit":"g"},"isReleased":true """);
        var missing = string.Empty;
        for (var cap = 1; cap <= 6; cap++)
        {
            await PostAsync(service, 10, $$""" "type":"unit-opened","unit":{"item":"CAP","serial":"{{cap}}"} """);
            var id = await PostAsync(service, 10 + cap, Fill(cap, cap is 1 or 2 ? "P1" : cap is 5 ? "P2" : null), cap == 4 ? "BENCH" : "TABLE");
            missing = cap == 3 ? id : missing;
        }

        foreach (var (box, cap) in new[] { ("A", 3), ("B", 5) })
        {
            await PostAsync(service, 20, $$""" "type":"unit-opened","unit":{"item":"BOX","serial":"{{box}}"} """);
            await PostAsync(service, 21, $$$""" "type":"step-completed","unit":{"item":"BOX","serial":"{{{box}}}"},"step":"PACK","components":[{"position":"CAP","component":{"item":"CAP","serial":"{{{cap}}}"}}] """);
        }

        await PostAsync(service, 30, """ "type":"unit-shipped","unit":{"item":"CAP","serial":"6"},"consignee":"Northmere Wells" """);
        await PostAsync(service, 31, """ "type":"unit-shipped","unit":{"item":"BOX","serial":"B"},"consignee":"Northmere Wells" """);
        await PostAsync(service, 40, """ "type":"stock-counted","lot":{"item":"PASTE","lot":"P1"},"quantity":{"value":0,"unit":"g"} """);
        return missing;
    }

    private static async Task NarrowAsync(ServiceHost service)
    {
        var answer = await AskAsync<NarrowingAnswer>(
            service,
            "/api/scopes/narrowing",
            """{"suspect":{"kind":"lot","item":"PASTE","lot":"P1"},"alternatives":[{"name":"Late","suspect":{"kind":"lot","item":"PASTE","lot":"P1","from":"2026-02-02T08:13:30Z"}}]}""");

        Assert.Equal((6, 2, 4), (answer.Totals.Members, answer.Totals.Proven, answer.Totals.Possible));
        Assert.Equal(["CAP/3 2", "CAP/4 1", "CAP/6 1"], answer.Facts.Select(f => $"{f.Unit.Item}/{f.Unit.Serial} {f.Clears}"));
        Assert.True(answer.FactsAreRanked);
        Assert.Equal(("lot", "FILL", "PASTE", "in-process", "shipped"), (answer.Facts[0].Missing, answer.Facts[0].Step, answer.Facts[0].What, answer.Facts[0].Whereabouts.Place, answer.Facts[2].Whereabouts.Place));
        Assert.Equal("Find out which lot was used for PASTE at step FILL on CAP/3 (inside BOX/A, in-process).", answer.Facts[0].Words);
        Assert.Equal(["BOX/A", "CAP/3"], answer.Facts[0].ClearsShown.Select(u => $"{u.Item}/{u.Serial}"));
        Assert.Equal([2, 3, 4], answer.Order.Select(s => s.ClearedSoFar));
        Assert.Equal(("in-process", 2, 3), (answer.Groups[0].Place, answer.Groups[0].Facts, answer.Groups[0].Clears));
        Assert.Contains("that would clear 3, if none names what is suspected", answer.Groups[0].Words, StringComparison.Ordinal);

        // Caps 1 and 2 were certainly filled before; cap 3 may have been filled after, by a clock that may be off by a minute.
        var late = answer.Alternatives[0];
        Assert.Equal(("asker", "Late", 4, 0, 4, 2), (late.By, late.Name, late.Members, late.Proven, late.Possible, late.Outside));
        var stations = answer.Alternatives.Where(a => a.By == "station").ToDictionary(a => a.Name, a => (a.Proven, a.Possible, a.Outside), StringComparer.Ordinal);
        Assert.Equal((2, 3, 1), stations["station TABLE"]);
        Assert.Equal((0, 1, 5), stations["station BENCH"]);
        Assert.Contains(answer.Remarks, r => r.Contains("what if", StringComparison.Ordinal));
        Assert.Contains(answer.Remarks, r => r.Contains("is unexplained", StringComparison.Ordinal));
    }

    // Any suspect can be narrowed: what was packed or filled at the table, less what was packed there.
    private static async Task NarrowWorkAsync(ServiceHost service)
    {
        var answer = await AskAsync<NarrowingAnswer>(service, "/api/scopes/narrowing", """{"suspect":{"kind":"work","station":"TABLE"}}""");
        Assert.Equal((7, 7, 0), (answer.Totals.Members, answer.Totals.Proven, answer.Totals.Possible));
        Assert.Equal([("step FILL", 7), ("step PACK", 2)], answer.Alternatives.Where(a => a.By == "step").Select(a => (a.Name, a.Members)));
        Assert.Empty(answer.Facts);
    }

    private async Task RecordAsync(ServiceHost service, string missing)
    {
        var before = await MembersAsync(service);
        await PostAsync(service, 50, $$""" "type":"record-corrected","record":"{{missing}}","replacement":{"occurredAt":"2026-02-02T08:13:00Z","station":"TABLE","person":"P-1",{{Fill(3, "P2")}}},"reason":"Found on the slip","authorisedBy":"P-9" """);
        Assert.Equal(["BOX/A", "CAP/3"], before.Except(await MembersAsync(service), StringComparer.Ordinal).Order(StringComparer.Ordinal));
    }

    // 20 − 4 − 0 = 16 g unexplained, 8 caps at 2 g; each of the caps that name nothing could have taken 2 g.
    private static async Task ReconcileAsync(ServiceHost service, int openUnits, decimal beyond)
    {
        var found = await AskAsync<LotReconciliationView>(service, "/api/lots/PASTE/P1/reconciliation");
        Assert.Equal((16m, 2m, "recorded", 8L, 8L), (found.Balance.UnexplainedMost, found.LeastPerUnit, found.LeastBy, found.UnitsMost, found.UnitsTypical));
        Assert.Equal((2, openUnits, beyond), (found.Proven, found.OpenUnits, found.BeyondMost));
        Assert.Equal("unexplained-beyond-scope", Assert.Single(found.Warnings).Code);
        var scope = await AskAsync<ScopeAnswer>(service, "/api/lots/PASTE/P1/scope");
        Assert.Contains(found.Warnings[0].Detail, scope.Remarks);

        var unknown = await AskAsync<LotReconciliationView>(service, "/api/lots/PASTE/P2/reconciliation");
        Assert.Equal("not-balanced", Assert.Single(unknown.Warnings).Code);
    }

    private static async Task SpreadAsync(ServiceHost service)
    {
        var one = await AskAsync<LotDispersionAnswer>(service, "/api/lots/PASTE/P2/dispersion");
        Assert.Equal((2, 2, 1, 1), (one.Lot.Units, one.Lot.FinishedUnits, one.Lot.Shipped, one.Lot.Shipments));
        Assert.Equal(("Northmere Wells", 1), (Assert.Single(one.Consignees).Consignee, one.Consignees[0].Units));

        var all = await AskAsync<LotDispersions>(service, "/api/lots/dispersion?item=PASTE");
        for (var tries = 0; !all.IsCurrent && tries < 300; tries++)
        {
            await Task.Delay(100);
            all = await AskAsync<LotDispersions>(service, "/api/lots/dispersion?item=PASTE");
        }

        Assert.Equal(["P1 2", "P2 2"], all.Lots.Select(l => $"{l.Lot} {l.FinishedUnits}"));
        Assert.Equal((2L, 4L, 4L, 0L), (all.Items[0].Lots, all.Items[0].FinishedUnits, all.Items[0].Links, all.Items[0].LinksByMixing));
    }

    private static string Fill(int cap, string? lot) =>
        $$""" "type":"step-completed","unit":{"item":"CAP","serial":"{{cap}}"},"step":"FILL" """
        + (lot is null ? string.Empty : $$$""","materials":[{"item":"PASTE","lots":["{{{lot}}}"],"quantity":{"value":2,"unit":"g"}}]""");

    private static async Task<string[]> MembersAsync(ServiceHost service) =>
        [.. (await AskAsync<ScopeAnswer>(service, "/api/lots/PASTE/P1/scope")).Members.Select(m => $"{m.Item}/{m.Serial}")];

    private async Task<string> PostAsync(ServiceHost service, int minute, string members, string station = "TABLE")
    {
        var id = $"7c1f9a10-0000-4000-8000-{++_facts:000000000000}";
        var json = $$"""{"factId":"{{id}}","occurredAt":"2026-02-02T08:{{minute:00}}:00Z","station":"{{station}}","person":"P-1",{{members}}}""";
        using var content = new StringContent(json, Encoding.UTF8, new MediaTypeHeaderValue("application/json"));
        using var answer = await service.Admin.PostAsync(new Uri("/api/facts", UriKind.Relative), content);
        Assert.True(answer.IsSuccessStatusCode, await answer.Content.ReadAsStringAsync());
        return id;
    }

    private static async Task<T> AskAsync<T>(ServiceHost service, string path, string? question = null)
    {
        using var content = question is null ? null : new StringContent(question, Encoding.UTF8, new MediaTypeHeaderValue("application/json"));
        using var answer = content is null ? await service.Admin.GetAsync(new Uri(path, UriKind.Relative)) : await service.Admin.PostAsync(new Uri(path, UriKind.Relative), content);
        var text = await answer.Content.ReadAsStringAsync();
        Assert.True(answer.IsSuccessStatusCode, text);
        return JsonSerializer.Deserialize<T>(text, WireJson.Options)!;
    }
}
