using System.Text.Json;
using Traceability.Acceptance.Robustness;
using Traceability.Contracts;
using Traceability.Contracts.Definitions;
using Traceability.Contracts.Units;
using Traceability.Testing;

namespace Traceability.Acceptance.Engineering;

/// <summary>May a newer part go in where the routing names the older one, and who said so?</summary>
public sealed class ReplacementTests
{
    [Fact]
    public async Task A_declared_replacement_is_accepted_from_its_day_in_its_revisions_and_no_longer_once_it_is_void()
    {
        await using var host = await ServiceHost.StartAsync();
        var works = new LampWorks(71, LampWorks.DaysAgo(6));
        await TellAsync(
        [
            .. works.Definitions(),
            works.Define("item-defined", -700, """ "item":"HEAD-N","kind":"subassembly","description":"New head" """),

            // Serials up to 20 are of revision A, the others of B.
            .. Married(works, 1, 0), .. Married(works, 2, 500), .. Married(works, 21, 500),
        ]);
        Assert.Equal(["component-wrong-item", "component-wrong-item", "component-wrong-item"], await AllAsync());

        var declared = works.Define(
            "replacement-declared", 300, """ "item":"LAMP","replaced":"HEAD","with":"HEAD-N","revisions":["A"],"reason":"Same form, fit and function","authorisedBy":"P-9" """);
        await TellAsync([declared]);
        Assert.Equal(["component-wrong-item", "component-wrong-item"], await AllAsync());
        Assert.Empty(await KindsAsync(2));
        var view = Assert.Single((await GetAsync<RoutingView>("/api/routings/LAMP")).Replacements);
        Assert.Equal((declared.Id, "HEAD", "HEAD-N", "A", "P-9"), (view.Record, view.Replaced, view.With, Assert.Single(view.Revisions), view.AuthorisedBy));

        // A head that nobody recorded could be a new one, too: whoever looks for new heads finds the lamp.
        await TellAsync([.. works.SimpleLamp(3, 600), works.Fact("step-completed", 620, LampWorks.Unit("LAMP", 3) + ""","step":"MARRY" """)]);
        await using var command = host.Database.CreateCommand("select string_agg(item, ' ' order by item) from traceability.trace_gap where unit = 'LAMP/3' and kind = 'serial'");
        Assert.Equal("HEAD HEAD-N", await command.ExecuteScalarAsync());

        // From another day on, and then not at all.
        var corrected = works.Define("record-corrected", 900, $$""" "record":"{{declared.Id}}","reason":"Earlier","authorisedBy":"P-9","replacement":{"type":"replacement-declared","occurredAt":"{{works.Time(300)}}","item":"LAMP","replaced":"HEAD","with":"HEAD-N","validFrom":"{{works.Time(-600)}}","reason":"As drawn","authorisedBy":"P-9"} """);
        await TellAsync([corrected]);
        Assert.Empty(await AllAsync());
        await TellAsync([works.Define("record-voided", 950, $$""" "record":"{{declared.Id}}","reason":"Not the same","authorisedBy":"P-9" """)]);
        Assert.Equal(3, (await AllAsync()).Length);
        await Rebuilds.RebuildClient.RequireFreshAsync(host.Database);

        async Task TellAsync(IReadOnlyList<Sent> facts)
        {
            await Terminal.PostAllAsync(host.Admin, facts, batch: 50);
            await Tables.SettleAsync(host.Database);
        }

        async Task<string[]> AllAsync() => [.. await KindsAsync(1), .. await KindsAsync(2), .. await KindsAsync(21)];

        async Task<string[]> KindsAsync(int serial) =>
            [.. (await GetAsync<UnitView>($"/api/units/LAMP/{serial}")).Findings.Where(f => f.Rule == "HEAD").Select(f => f.Kind)];

        async Task<T> GetAsync<T>(string path) => JsonSerializer.Deserialize<T>(await host.Admin.GetStringAsync(path), WireJson.Options)!;
    }

    private static Sent[] Married(LampWorks works, int serial, double at) =>
    [
        works.Fact("unit-opened", at, LampWorks.Unit("HEAD-N", serial)),
        works.Fact("unit-released", at + 1, LampWorks.Unit("HEAD-N", serial)),
        .. works.SimpleLamp(serial, at),
        works.Fact("step-completed", at + 22, LampWorks.Unit("LAMP", serial) + $$$""","step":"MARRY","startedAt":"{{{works.Time(at + 20)}}}","components":[{"position":"HEAD","component":{"item":"HEAD-N","serial":"{{{serial}}}"}}]"""),
    ];
}
