using System.Net.Http.Headers;
using System.Text;
using System.Text.Json;
using Traceability.Contracts;
using Traceability.Contracts.Scope;
using Traceability.Contracts.Units;
using Traceability.Contracts.Yield;
using Traceability.Testing;

namespace Traceability.Acceptance.OtherProduct;

/// <summary>A product of another kind, a small signal buoy with a sealed battery, runs through the same service from one file.</summary>
public sealed class BuoyTests
{
    private const string File = """
        asOf: 2026-01-05T08:00:00Z
        sites: [ { site: PIER, description: Boat shed, timeZone: Atlantic/Azores } ]
        stations: [ { station: TABLE, site: PIER, description: Table } ]
        items:
          - { item: BUOY, kind: product, description: Signal buoy, variants: [RED, GREEN] }
          - { item: CELL, kind: part, description: Battery cell pack }
          - { item: RESIN, kind: consumable, description: Potting resin, lifeAfterOpening: P7D }
        people: [ { person: P-1, displayName: Potter } ]
        lots: [ { item: RESIN, lot: R1, isReleased: true, containers: [ { container: CAN-1, since: 2026-02-01T08:00:00Z } ] } ]
        routings:
          - item: BUOY
            revision: "1"
            description: First
            release: true
            steps:
              - code: WIRE
                name: Wire the cell pack
                cautions: [Lithium cells - do not short the leads.]
                components: [ { position: CELL, item: CELL, mustBeReleased: false } ]
                characteristics: [ { code: OPEN-VOLTS, name: Voltage without load, unit: V, lower: { constant: 7.2 }, upper: { constant: 8.4 } } ]
              - code: POT
                name: Pot the electronics
                isPointOfNoReturn: true
                prerequisites: [WIRE]
                materials: [ { code: RESIN, item: RESIN, tracing: container } ]
              - code: FLOAT
                name: Float test
                prerequisites: [POT]
                characteristics:
                  - code: DRAUGHT
                    name: Draught above that of the cell pack
                    unit: mm
                    upper: { constant: 40, terms: [ { factor: 0.5, step: WIRE, characteristic: PACK-LENGTH } ] }
            intervals:
              - { code: GEL, name: Resin gels, from: { step: POT, kind: completed }, to: { step: FLOAT, kind: started }, minimum: PT4H }
        """;

    [Fact]
    public async Task A_buoy_is_defined_built_judged_and_answered_for()
    {
        await using var service = await ServiceHost.StartAsync();
        var file = File.Replace("upper: { constant: 8.4 } } ]", "upper: { constant: 8.4 } }, { code: PACK-LENGTH, name: Length of the pack, unit: mm } ]", StringComparison.Ordinal);
        using (var content = new StringContent(file, Encoding.UTF8, new MediaTypeHeaderValue("application/yaml")))
        using (var answer = await service.Admin.PostAsync(new Uri("/api/master-data", UriKind.Relative), content))
        {
            Assert.True(answer.IsSuccessStatusCode, await answer.Content.ReadAsStringAsync());
        }

        await PostAsync(service, 1, """ "type":"unit-opened","occurredAt":"2026-02-02T08:00:00Z","unit":{"item":"CELL","serial":"C7"} """);
        await PostAsync(service, 2, """ "type":"unit-opened","occurredAt":"2026-02-02T08:00:00Z","unit":{"item":"BUOY","serial":"B1"},"variant":"RED" """);
        var wired = await PostAsync(service, 3, """ "type":"step-completed","occurredAt":"2026-02-02T09:00:00Z","unit":{"item":"BUOY","serial":"B1"},"step":"WIRE","components":[{"position":"CELL","component":{"item":"CELL","serial":"C7"}}],"measurements":[{"characteristic":"OPEN-VOLTS","value":7900,"unit":"mV"},{"characteristic":"PACK-LENGTH","value":8,"unit":"cm"}] """);
        var potted = await PostAsync(service, 4, """ "type":"step-completed","occurredAt":"2026-02-02T10:00:00Z","unit":{"item":"BUOY","serial":"B1"},"step":"POT","materials":[{"item":"RESIN","lots":["R1"],"container":"CAN-1"}] """);
        var floated = await PostAsync(service, 5, """ "type":"step-completed","occurredAt":"2026-02-02T15:00:00Z","startedAt":"2026-02-02T14:30:00Z","unit":{"item":"BUOY","serial":"B1"},"step":"FLOAT","measurements":[{"characteristic":"DRAUGHT","value":81,"unit":"mm"}] """);

        // 40 mm + 0.5 × 80 mm = 80 mm.
        Assert.Equal("value-out-of-limits", Assert.Single(Kinds(floated)));
        Assert.Empty(Kinds(wired));
        Assert.Empty(Kinds(potted));
        var view = await AskAsync<UnitView>(service, "/api/units/BUOY/B1");
        Assert.Equal([true, true, false], view.Steps.Select(s => s.Passed));
        Assert.Equal("FLOAT", Assert.Single(view.NextSteps));
        var scope = await AskAsync<ScopeAnswer>(service, "/api/lots/RESIN/R1/containers/CAN-1/scope");
        Assert.Equal(("BUOY", "B1", "proven"), Assert.Single(scope.Members.Select(m => (m.Item, m.Serial, m.Verdict))));
        var yields = await AskAsync<StepYields>(service, "/api/yield/steps?item=BUOY&from=2026-02-02&to=2026-02-02&by=step");
        Assert.Equal(["FLOAT 0/1", "POT 1/1", "WIRE 1/1"], yields.Cells.Select(c => $"{c.Step} {c.Figures.FirstPassYield.Numerator}/{c.Figures.FirstPassYield.Denominator}").Order(StringComparer.Ordinal));
    }

    private static IEnumerable<string> Kinds(FactReceipt receipt) => receipt.Findings.Where(f => f.Enforcement == Contracts.Facts.Enforcement.Stop && f.CountsAsDefect).Select(f => f.Kind);

    private static async Task<FactReceipt> PostAsync(ServiceHost service, int number, string members)
    {
        var json = $$"""{"factId":"7c1f9a10-0000-4000-8000-{{number:000000000000}}","station":"TABLE","person":"P-1",{{members}}}""";
        using var content = new StringContent(json, Encoding.UTF8, new MediaTypeHeaderValue("application/json"));
        using var answer = await service.Admin.PostAsync(new Uri("/api/facts", UriKind.Relative), content);
        var text = await answer.Content.ReadAsStringAsync();
        Assert.True(answer.IsSuccessStatusCode, text);
        return JsonSerializer.Deserialize<FactReceipt>(text, WireJson.Options)!;
    }

    private static async Task<T> AskAsync<T>(ServiceHost service, string path)
    {
        using var answer = await service.Admin.GetAsync(new Uri(path, UriKind.Relative));
        var text = await answer.Content.ReadAsStringAsync();
        Assert.True(answer.IsSuccessStatusCode, text);
        return JsonSerializer.Deserialize<T>(text, WireJson.Options)!;
    }
}
