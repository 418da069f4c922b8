using Traceability.Contracts.Units;
using Traceability.Testing;

namespace Traceability.Acceptance.Engineering;

/// <summary>Which shim, which mate? And what a corrected input does to the step that was judged by it.</summary>
public sealed class FitTests
{
    private const string File = """
        asOf: 2026-01-05T08:00:00Z
        sites: [ { site: PIER, description: Works, timeZone: Atlantic/Azores } ]
        stations: [ { station: TABLE, site: PIER, description: Table } ]
        items:
          - { item: HEAD, kind: product, description: Head }
          - { item: ROTOR, kind: subassembly, description: Rotor }
        people: [ { person: P-1, displayName: Assembler } ]
        routings:
          - item: ROTOR
            revision: A
            description: First
            release: true
            steps: [ { code: SIZE, name: Size, characteristics: [ { code: HEIGHT, name: Height, unit: mm } ] } ]
          - item: HEAD
            revision: A
            description: First
            release: true
            steps:
              - { code: DEPTH, name: Depth, characteristics: [ { code: DEPTH, name: Depth of the bore, unit: mm } ] }
              - code: MARRY
                name: Put in the rotor
                components: [ { position: ROTOR, item: ROTOR, mustBeReleased: true } ]
                characteristics:
                  - code: HEIGHT
                    name: Height of the rotor
                    unit: mm
                    isRequired: false
                    lower: { constant: -1.0, terms: [ { factor: 1, step: DEPTH, characteristic: DEPTH } ] }
                    upper: { constant: -0.8, terms: [ { factor: 1, step: DEPTH, characteristic: DEPTH } ] }
              - code: SHIM
                name: Choose the shim
                characteristics:
                  - code: SHIM
                    name: Thickness
                    unit: mm
                    lower: { constant: -0.02, terms: [ { factor: 1, step: DEPTH, characteristic: DEPTH }, { factor: -1, position: ROTOR, step: SIZE, characteristic: HEIGHT } ] }
                    upper: { constant: 0.02, terms: [ { factor: 1, step: DEPTH, characteristic: DEPTH }, { factor: -1, position: ROTOR, step: SIZE, characteristic: HEIGHT } ] }
        """;

    [Fact]
    public async Task Mates_and_shims_are_proposed_and_a_corrected_input_on_a_component_judges_the_step_anew()
    {
        await using var host = await Shop.OpenAsync(File);
        var shop = new Shop(host);
        var sizes = new Dictionary<string, Guid>(StringComparer.Ordinal);
        foreach (var (serial, height) in new[] { ("R1", "11.55"), ("R2", "11.61"), ("R3", "1.148"), ("R4", "11.60") })
        {
            var unit = $$""" "station":"TABLE","unit":{"item":"ROTOR","serial":"{{serial}}"}""";
            await shop.TellAsync($$""" "type":"unit-opened","occurredAt":"2026-02-02T08:00:00Z",{{unit}} """);
            var rest = serial switch { "R1" => "\"mm\",\"standardUncertainty\":0.004", "R3" => "\"cm\"", _ => "\"mm\"" };
            sizes[serial] = await shop.TellAsync($$""" "type":"step-completed","occurredAt":"2026-02-02T08:10:00Z",{{unit}},"step":"SIZE","measurements":[{"characteristic":"HEIGHT","value":{{height}},"unit":{{rest}} }] """);
            if (serial != "R4")
            {
                await shop.TellAsync($$""" "type":"unit-released","occurredAt":"2026-02-02T08:20:00Z",{{unit}} """);
            }
        }

        const string head = """ "station":"TABLE","unit":{"item":"HEAD","serial":"1"}""";
        await shop.TellAsync($$""" "type":"unit-opened","occurredAt":"2026-02-03T08:00:00Z",{{head}} """);
        await shop.TellAsync($$""" "type":"step-completed","occurredAt":"2026-02-03T08:10:00Z",{{head}},"step":"DEPTH","measurements":[{"characteristic":"DEPTH","value":12.5,"unit":"mm","standardUncertainty":0.003}] """);

        // The window is 11.5 to 11.7 mm: R2 lies 0.09 inside, R1 0.05, R3 is 0.02 outside, and R4 is not in stock.
        var mates = await shop.AskAsync<FitProposal>("/api/units/HEAD/1/steps/MARRY/fits", """{"characteristic":"HEIGHT","mates":{"item":"ROTOR","step":"SIZE","characteristic":"HEIGHT"}}""");
        Assert.Equal(["ROTOR/R2 True 0.09", "ROTOR/R1 True 0.05", "ROTOR/R3 False -0.02"], mates.Candidates.Select(c => FormattableString.Invariant($"{c.Name} {c.Fits} {c.Margin:0.##}")));
        Assert.Equal(sizes["R2"], mates.Candidates[0].Record);
        Assert.Equal(0.005, mates.Candidates[1].StandardUncertainty!.Value, 9);
        Assert.Equal([false, true, false], mates.Candidates.Select(c => c.IsUncertaintyComplete));

        var unknown = await shop.AskAsync<FitProposal>("/api/units/HEAD/1/steps/SHIM/fits", """{"characteristic":"SHIM","sizes":[{"name":"0.95","value":0.95,"unit":"mm"}]}""");
        Assert.Equal((false, false), (unknown.IsKnown, unknown.Candidates[0].Fits));

        await shop.TellAsync($$""" "type":"step-completed","occurredAt":"2026-02-03T09:00:00Z",{{head}},"step":"MARRY","components":[{"position":"ROTOR","component":{"item":"ROTOR","serial":"R1"} }] """);
        var shims = await shop.AskAsync<FitProposal>("/api/units/HEAD/1/steps/SHIM/fits", """{"characteristic":"SHIM","sizes":[{"name":"0.90","value":0.90,"unit":"mm"},{"name":"0.95","value":0.95,"unit":"mm"},{"name":"0.04 in","value":0.04,"unit":"[in_i]"}],"mates":{"item":"ROTOR","step":"SIZE","characteristic":"HEIGHT"}}""");
        Assert.Equal((0.93m, 0.97m, 0.95m, true), (shims.Lower!.Value, shims.Upper!.Value, shims.Middle, shims.IsKnown));
        Assert.Equal(["0.95 True", "0.90 False", "0.04 in False"], shims.Candidates.Take(3).Select(c => $"{c.Name} {c.Fits}"));

        // R1 is inside this head now, so it is no mate any more.
        Assert.DoesNotContain(shims.Candidates, c => c.Name == "ROTOR/R1");
        Assert.Equal([("HEAD", "DEPTH"), ("ROTOR", "HEIGHT")], shims.Lower.Inputs.Select(i => (i.Unit.Item, i.Characteristic)));
        Assert.Equal(0.005, shims.Upper.StandardUncertainty!.Value, 9);

        var shimmed = await shop.ReceiptAsync($$""" "type":"step-completed","occurredAt":"2026-02-03T10:00:00Z",{{head}},"step":"SHIM","measurements":[{"characteristic":"SHIM","value":0.95,"unit":"mm"}] """);
        Assert.Empty(shimmed.Findings);

        // The rotor was misread: the head's step is judged anew, at the moment of asking and in the tables.
        await shop.TellAsync($$$""" "type":"record-corrected","occurredAt":"2026-02-04T08:00:00Z","record":"{{{sizes["R1"]}}}","reason":"misread","authorisedBy":"P-1","replacement":{"type":"step-completed","occurredAt":"2026-02-02T08:10:00Z","station":"TABLE","unit":{"item":"ROTOR","serial":"R1"},"step":"SIZE","measurements":[{"characteristic":"HEIGHT","value":11.65,"unit":"mm"}]} """);
        var view = await shop.AskAsync<UnitView>("/api/units/HEAD/1");
        var finding = Assert.Single(view.Findings);
        Assert.Equal(("value-out-of-limits", "SHIM"), (finding.Kind, finding.Rule));
        Assert.Contains(sizes["R1"].ToString(), string.Join(' ', finding.Evidence.Values), StringComparison.Ordinal);
        Assert.False(view.Steps[^1].Passed);
        await UntilStoredAsync(host);

        var limits = Assert.Single((await shop.AskAsync<BuildRecord>("/api/units/HEAD/1/build-record")).DerivedLimits, l => l.Step == "SHIM");
        Assert.Equal((0.83m, 0.87m, sizes["R1"]), (limits.Lower!.Value, limits.Upper!.Value, limits.Lower.Inputs[1].Record));
    }

    // The worker judges units anew that a change elsewhere reaches; it is told and does not wait for a timer.
    private static async Task UntilStoredAsync(ServiceHost host)
    {
        for (var tries = 0; tries < 300; tries++)
        {
            await using var command = host.Database.CreateCommand("select count(*) from traceability.finding where unit = 'HEAD/1' and kind = 'value-out-of-limits'");
            if (await command.ExecuteScalarAsync() is 1L)
            {
                return;
            }

            await Task.Delay(100);
        }

        Assert.Fail("The stored judgement did not follow the correction within 30 s.");
    }
}
