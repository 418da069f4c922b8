using System.Net.Http.Headers;
using System.Text;
using System.Text.Json;
using Traceability.Contracts;
using Traceability.Contracts.Scope;
using Traceability.Contracts.Units;
using Traceability.Testing;

namespace Traceability.Acceptance.Scopes;

/// <summary>Cells with serials of their own, bought in lots, of which the records don't always say which.</summary>
public sealed class OwnLotTests
{
    private const string File = """
        asOf: 2026-01-05T08:00:00Z
        sites: [ { site: SHED, description: Shed, timeZone: Atlantic/Azores } ]
        stations: [ { station: TABLE, site: SHED, description: Table } ]
        items:
          - { item: TORCH, kind: product, description: Torch }
          - { item: CELL, kind: part, description: Cell }
        people: [ { person: P-1, displayName: Fitter }, { person: P-9, displayName: Quality } ]
        routings:
          - item: TORCH
            revision: "1"
            description: First
            release: true
            steps:
              - code: FIT
                name: Fit the cell
                components: [ { position: CELL, item: CELL } ]
        """;

    private int _facts;

    [Fact]
    public async Task A_cell_whose_lot_no_record_that_counts_names_may_be_of_any_that_was_there_and_so_may_its_torch()
    {
        await using var service = await ServiceHost.StartAsync();
        using (var content = new StringContent(File, Encoding.UTF8, new MediaTypeHeaderValue("application/yaml")))
        using (var answer = await service.Admin.PostAsync(new Uri("/api/master-data", UriKind.Relative), content))
        {
            Assert.True(answer.IsSuccessStatusCode, await answer.Content.ReadAsStringAsync());
        }

        await PostAsync(service, 10, """ "type":"lot-received","lot":{"item":"CELL","lot":"L1"},"isReleased":true """);
        await PostAsync(service, 20, """ "type":"lot-received","lot":{"item":"CELL","lot":"L2"},"isReleased":true """);
        await OpenAsync(service, 11, "C1", "L1");
        await OpenAsync(service, 12, "C2", null);
        await OpenAsync(service, 22, "C3", null);
        var mistaken = await OpenAsync(service, 23, "C4", "L1");
        await OpenAsync(service, 24, "C5", "L2");
        for (var torch = 1; torch <= 6; torch++)
        {
            await PostAsync(service, 30, $$""" "type":"unit-opened","unit":{"item":"TORCH","serial":"{{torch}}"} """);
            await PostAsync(service, 30 + torch, $$$""" "type":"step-completed","unit":{"item":"TORCH","serial":"{{{torch}}}"},"step":"FIT","components":[{"position":"CELL","component":{"item":"CELL","serial":"C{{{torch}}}"}}] """);
        }

        await PostAsync(service, 40, $$""" "type":"record-voided","record":"{{mistaken}}","reason":"Other box","authorisedBy":"P-9" """);

        // C6 was never opened, so its torch alone is known.
        Assert.Equal("C1 proven, C2 possible, C3 possible, C4 possible, 1 proven, 2 possible, 3 possible, 4 possible, 6 possible", await MembersAsync(service, "L1"));
        Assert.Equal("C3 possible, C4 possible, C5 proven, 3 possible, 4 possible, 5 proven, 6 possible", await MembersAsync(service, "L2"));
        Assert.Equal(["C5"], (await AskAsync<ScopeAnswer>(service, "/api/lots/CELL/L1/scope?include=cleared")).Cleared!.Select(c => c.Serial));
        var scope = await AskAsync<ScopeAnswer>(service, "/api/lots/CELL/L2/scope");
        Assert.Equal(
            [
                "No record names the lot that CELL/C3 itself came in; it could have been lot CELL/L2.",
                "The record that opened CELL/C4 is void, so the lot that it came in is not known; it could have been lot CELL/L2.",
            ],
            scope.Members.Take(2).Select(m => m.Reason));
        Assert.Equal(
            "Nothing is recorded of the component that was put into TORCH/6 at position CELL, so the lot that it came in is not known; it could have been lot CELL/L2.",
            scope.Members[^1].Reason);
        Assert.Equal(
            "Units that hold a component of which nothing is recorded: 1, TORCH/6 first. Such a component may be of any lot of its item; if it was built here, what was used on it can't be told, and the answer can't be complete.",
            Assert.Single(scope.Remarks));
        Assert.Equal(["own-lot-missing"], scope.Members[^1].Path.Select(h => h.Kind));
        var gap = Assert.Single((await AskAsync<BuildRecord>(service, "/api/units/CELL/C4/build-record")).Gaps);
        Assert.Equal(("own-lot", "voided", null, null), (gap.Kind, gap.Reason, gap.Step, gap.Requirement));

        // The records come late.
        await OpenAsync(service, 25, "C4", "L2");
        await OpenAsync(service, 26, "C6", "L1");
        Assert.Equal("C3 possible, C4 proven, C5 proven, 3 possible, 4 proven, 5 proven", await MembersAsync(service, "L2"));
        Assert.Empty((await AskAsync<ScopeAnswer>(service, "/api/lots/CELL/L2/scope")).Remarks);
    }

    private Task<Guid> OpenAsync(ServiceHost service, int minute, string cell, string? lot) => PostAsync(
        service, minute, $$""" "type":"unit-opened","unit":{"item":"CELL","serial":"{{cell}}"}{{(lot is null ? string.Empty : $",\"lot\":\"{lot}\"")}} """);

    private async Task<string> MembersAsync(ServiceHost service, string lot)
    {
        await Robustness.Tables.SettleAsync(service.Database);
        var scope = await AskAsync<ScopeAnswer>(service, $"/api/lots/CELL/{lot}/scope");
        Assert.True(scope.Completeness.IsComplete);
        return string.Join(", ", scope.Members.Select(m => $"{m.Serial} {m.Verdict}"));
    }

    private async Task<Guid> PostAsync(ServiceHost service, int minute, string members)
    {
        var json = $$"""{"factId":"7c1f9a10-0000-4000-8000-{{++_facts:000000000000}}","occurredAt":"2026-02-02T08:{{minute:00}}:00Z","station":"TABLE","person":"P-1",{{members}}}""";
        using var content = new StringContent(json, Encoding.UTF8, new MediaTypeHeaderValue("application/json"));
        using var answer = await service.Admin.PostAsync(new Uri("/api/facts", UriKind.Relative), content);
        var text = await answer.Content.ReadAsStringAsync();
        Assert.True(answer.IsSuccessStatusCode, text);
        return JsonSerializer.Deserialize<FactReceipt>(text, WireJson.Options)!.FactId;
    }

    private static async Task<T> AskAsync<T>(ServiceHost service, string path)
    {
        using var answer = await service.Admin.GetAsync(new Uri(path, UriKind.Relative));
        var text = await answer.Content.ReadAsStringAsync();
        Assert.True(answer.IsSuccessStatusCode, text);
        return JsonSerializer.Deserialize<T>(text, WireJson.Options)!;
    }
}
