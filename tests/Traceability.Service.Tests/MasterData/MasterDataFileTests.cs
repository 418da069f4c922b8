using System.Text;
using Traceability.Domain.Items;
using Traceability.Domain.Lots;
using Traceability.Domain.Routings;
using Traceability.Domain.Tools;
using Traceability.Service.Features.MasterData;
using Traceability.Service.Storage;
using Xunit;

namespace Traceability.Service.Tests.MasterData;

public sealed class MasterDataFileTests
{
    /// <summary>A file without errors.</summary>
    internal const string Good = """
        # A tiny lamp: one bond, one test.
        asOf: 2026-01-05T08:00:00+01:00
        person: P-3
        sites:
          - { site: NORTH, description: Works, timeZone: Europe/Lisbon }
        stations:
          - { station: BENCH-1, site: NORTH, description: Bench }
        defects:
          - { defect: "NO", description: Does not light }
        items:
          - { item: LAMP, kind: product, description: Lamp, variants: [WARM, COLD] }
          - { item: GLUE, kind: consumable, description: Adhesive, lifeAfterOpening: P5D }
        people:
          - person: P-1
            displayName: Assembler 1
            qualifications:
              - { qualification: BONDING, since: 2026-01-02T08:00:00Z, validUntil: 2027-01-02T08:00:00Z }
        tools:
          - tool: SD-1
            toolClass: SCREWDRIVER
            description: Driver
            needsCalibration: true
            calibrations:
              - { foundGood: true, leftGood: true, validUntil: 2027-01-05T08:00:00+01:00 }
            settings:
              - { setting: 5, torque: { value: 1.20, unit: N.m } }
        lots:
          - item: GLUE
            lot: 0077
            quantity: { value: 50.0, unit: g }
            isReleased: true
            stations: [BENCH-1]
            containers:
              - { container: T1, since: 2026-01-06T07:00:00+01:00 }
        routings:
          - item: LAMP
            revision: A
            description: First
            release: true
            releasedBy: P-3
            steps:
              - code: BOND
                name: Bond the lens
                stations: [BENCH-1]
                materials:
                  - { code: GLUE, item: GLUE, quantityMax: { value: 0.5, unit: g } }
              - code: TEST
                name: Light it
                prerequisites: [BOND]
                characteristics:
                  - { code: CURRENT, name: Current, unit: mA, lower: { constant: 18.0 }, upper: { constant: 22.0 } }
            intervals:
              - { code: CURE, name: Cure, from: { step: BOND, kind: completed }, to: { step: TEST, kind: started }, minimum: PT10M }
        """;

    /// <summary>A declared replacement, to be put behind the file.</summary>
    internal const string Replacing = """

        replacements:
          - item: LAMP
            replaced: GLUE
            with: GLUE
            revisions: [A, B]
            reason: As drawn
            authorisedBy: P-9
        """;

    [Fact]
    public void A_replacement_is_read_after_the_revisions_that_it_names()
    {
        var file = Good.Replace("- { item: GLUE, kind", "- { item: GLUE-N, kind: consumable, description: Newer }\n  - { item: GLUE, kind", StringComparison.Ordinal)
            + Replacing.Replace("with: GLUE", "with: GLUE-N", StringComparison.Ordinal).Replace("[A, B]", "[A]", StringComparison.Ordinal).Replace("P-9", "P-1", StringComparison.Ordinal);
        var reading = MasterDataFile.Read(file, Nothing);
        Assert.Empty(reading.Errors);
        var declared = Assert.Single(reading.Facts.Select(f => f.Fact.Fact).OfType<ReplacementDeclared>());
        Assert.Equal(("LAMP", "GLUE", "GLUE-N", "A", "P-1"), (declared.Item.Value, declared.Replaced.Value, declared.With.Value, declared.Revisions.Single().Value, declared.AuthorisedBy.Value));
    }

    [Fact]
    public void A_replacement_that_names_what_is_not_there_is_told_with_its_line_and_member()
    {
        var errors = MasterDataFile.Read(Good + Replacing, Nothing).Errors;
        Assert.Equal(["57:5 /replacements/0/with"], errors.Select(e => $"{e.Line}:{e.Column} {e.Pointer}"));
        errors = MasterDataFile.Read(Good + Replacing.Replace("with: GLUE", "with: GLEU", StringComparison.Ordinal), Nothing).Errors;
        Assert.Equal(["57:5 /replacements/0/with", "58:20 /replacements/0/revisions/1", "60:5 /replacements/0/authorisedBy"], errors.Select(e => $"{e.Line}:{e.Column} {e.Pointer}"));
        Assert.Contains("There is no item GLEU, neither in this file nor recorded before.", errors[0].Detail, StringComparison.Ordinal);
        Assert.Contains("There is no revision of item LAMP B", errors[1].Detail, StringComparison.Ordinal);
        Assert.Contains("There is no person P-9", errors[2].Detail, StringComparison.Ordinal);
        Assert.Empty(MasterDataFile.Read(Good + Replacing.Replace("with: GLUE", "with: OLD", StringComparison.Ordinal), (kind, name) => (kind, name) is (DefinitionKind.Item, "OLD") or (DefinitionKind.Revision, "LAMP/B") or (DefinitionKind.Person, "P-9")).Errors);
    }

    [Fact]
    public void A_good_file_becomes_facts_in_the_order_in_which_they_can_be_recorded()
    {
        var reading = MasterDataFile.Read(Good, Nothing);

        Assert.Empty(reading.Errors);
        Assert.Equal(
            "site_defined station_defined defect_code_defined item_defined item_defined person_defined qualification_granted tool_defined tool_calibrated "
            + "tool_setting_verified lot_received container_opened routing_drafted routing_released",
            string.Join(' ', reading.Facts.Select(f => EventNames.Of(f.Fact.Fact.GetType()))));
        var facts = reading.Facts.Select(f => f.Fact.Fact).ToArray();
        Assert.All(facts, f => Assert.Equal("P-3", f.Person?.Value));
        Assert.Equal("NO", facts.OfType<DefectCodeDefined>().Single().Defect.Value);
        Assert.Equal("1.20 N.m", facts.OfType<ToolSettingVerified>().Single().Torque.ToString());
        Assert.Equal("5", facts.OfType<ToolSettingVerified>().Single().Setting.Value);
        Assert.Equal("0077", facts.OfType<LotReceived>().Single().Lot.Lot.Value);
        Assert.Equal(new(2026, 1, 6, 7, 0, 0, TimeSpan.FromHours(1)), facts.OfType<ContainerOpened>().Single().OccurredAt);
        Assert.Equal(new(2026, 1, 5, 8, 0, 0, TimeSpan.FromHours(1)), facts.OfType<LotReceived>().Single().OccurredAt);
        Assert.Equal(TimeSpan.FromMinutes(10), facts.OfType<RoutingDrafted>().Single().Revision.Intervals.Single().Minimum);
        Assert.Equal("P-3", facts.OfType<RoutingReleased>().Single().ReleasedBy?.Value);
    }

    [Fact]
    public void The_same_file_makes_the_same_ids_and_a_changed_entry_another_one()
    {
        var first = MasterDataFile.Read(Good, Nothing).Facts;
        var again = MasterDataFile.Read("\n" + Good.Replace("# A tiny lamp", "# A lamp", StringComparison.Ordinal), Nothing).Facts;
        var changed = MasterDataFile.Read(Good.Replace("Bench }", "Bench one }", StringComparison.Ordinal), Nothing).Facts;

        Assert.Equal(first.Select(f => f.Fact.Id), again.Select(f => f.Fact.Id));
        Assert.Equal(first.Length, first.Select(f => f.Fact.Id).Distinct().Count());
        Assert.Equal([1], Enumerable.Range(0, first.Length).Where(i => first[i].Fact.Id != changed[i].Fact.Id));
    }

    [Fact]
    public void Every_error_is_told_with_its_line_and_column()
    {
        const string Bad = """
            asOf: 2026-01-05T08:00:00
            sites:
              - { site: NORTH, description: Works, timeZone: Mars/Olympus }
            stations:
              - { station: BENCH 1, site: NORTH, description: Bench }
              - { station: BENCH-2, site: NORHT, description: Bench, since: 2026-01-05T08:00:00Z }
            itms: []
            items:
              - item: LAMP
                kind: gadget
                descripton: Lamp
            tools:
              - tool: SD-1
                toolClass: SCREWDRIVER
                description: Driver
                needsCalibration: yes
                settings:
                  - setting: 5
                    torque: { value: .inf, unit: N.m }
            lots: 5
            routings:
              - item: LAMP
                revision: A
                description: First
                release: maybe
                steps:
                  - code: TEST
                    name: Light it
                    prerequisites: [BOND]
            """;

        var errors = MasterDataFile.Read(Bad, Nothing).Errors;

        Assert.Equal(
            """
            1:1 /asOf
            3:40 /sites/0/timeZone
            5:7 /stations/0/station
            6:25 /stations/1/site
            7:1 /itms
            9:5 /items/0/description
            10:5 /items/0/kind
            11:5 /items/0/descripton
            16:5 /tools/0/needsCalibration
            19:19 /tools/0/settings/0/torque/value
            20:1 /lots
            25:5 /routings/0/release
            29:25 /routings/0/steps/0/prerequisites/0
            """,
            Places(errors));
        Assert.Contains(errors, e => e.Detail.Contains("Did you mean 'items'?", StringComparison.Ordinal));
        Assert.Contains(errors, e => e.Detail.Contains("Did you mean 'description'?", StringComparison.Ordinal));
    }

    [Fact]
    public void A_name_that_nobody_defines_is_told_and_a_known_one_is_not()
    {
        var text = Good
            .Replace("site: NORTH, description: Bench", "site: NORHT, description: Bench", StringComparison.Ordinal)
            .Replace("timeZone: Europe/Lisbon", "timeZone: Mars/Olympus", StringComparison.Ordinal)
            .Replace("item: GLUE, quantityMax", "item: GLU, alternatives: [TAPE], quantityMax", StringComparison.Ordinal)
            .Replace("releasedBy: P-3", "effectivity: { variants: [WARN] }", StringComparison.Ordinal);

        var errors = MasterDataFile.Read(text, (kind, name) => kind == DefinitionKind.Item && name == "TAPE").Errors;

        Assert.Equal(
            """
            5:40 /sites/0/timeZone
            7:25 /stations/0/site
            40:31 /routings/0/effectivity/variants/0
            46:27 /routings/0/steps/0/materials/0/item
            """,
            Places(errors));
        Assert.Contains("Did you mean 'GLUE'?", errors[^1].Detail, StringComparison.Ordinal);
        Assert.Empty(MasterDataFile.Read(Good.Replace("site: NORTH, description: Bench", "site: SOUTH, description: Bench", StringComparison.Ordinal), (_, name) => name == "SOUTH").Errors);
    }

    [Theory]
    [InlineData("", "empty")]
    [InlineData("just words", "sections by name")]
    [InlineData("a: [", "not well-formed")]
    [InlineData("sites: []\nsites: []", "given twice")]
    [InlineData("asOf: &x 1\nperson: *x", "alias")]
    [InlineData("asOf: 2026-01-05T08:00:00Z\n---\nsites: []", "second document")]
    [InlineData("sites: []", "asOf")]
    [InlineData("asOf: 2026-01-05T08:00:00Z\nsites: [NORTH]", "named members")]
    [InlineData("asOf: 2026-01-05T08:00:00Z\ndefects: [{defect: A, description: x}, {defect: A, description: y}]", "before in this file")]
    public void What_is_no_such_file_is_told(string text, string detail) =>
        Assert.Contains(MasterDataFile.Read(text, Nothing).Errors, e => e.Detail.Contains(detail, StringComparison.OrdinalIgnoreCase));

    [Fact]
    public void The_same_definitions_in_JSON_are_the_same_facts()
    {
        const string Json = "{\n\t\"asOf\": \"2026-01-05T08:00:00+01:00\",\n\t\"person\": \"P-3\",\n\t\"items\": [\n\t\t{ \"item\": \"GLUE\", \"kind\": \"consumable\", \"description\": \"Adhesive\", \"lifeAfterOpening\": \"P5D\" }\n\t]\n}";

        var reading = MasterDataFile.Read(Encoding.UTF8.GetBytes(Json), Nothing);

        Assert.Empty(reading.Errors);
        Assert.Equal(MasterDataFile.Read(Good, Nothing).Facts.Single(f => f.Fact.Fact is ItemDefined { Item.Value: "GLUE" }).Fact.Id, reading.Facts.Single().Fact.Id);
    }

    [Fact]
    public void Bytes_that_are_no_text_and_depth_without_end_are_told()
    {
        Assert.Contains("UTF-8", MasterDataFile.Read([0xC3, 0x28], Nothing).Errors.Single().Detail, StringComparison.Ordinal);
        Assert.Contains("levels", MasterDataFile.Read("a: " + new string('[', 5_000), Nothing).Errors.Single().Detail, StringComparison.Ordinal);
    }

    /// <remarks>Source: RFC 9562, appendix B.2: the UUIDv8 of "www.example.com" in the DNS namespace, with SHA-256.</remarks>
    [Fact]
    public void An_id_is_made_as_in_RFC_9562() =>
        Assert.Equal(new Guid("5c146b14-3c52-8afd-938a-375d0df1fbf6"), FactIds.OfName(new Guid("6ba7b810-9dad-11d1-80b4-00c04fd430c8"), "www.example.com"));

    private static bool Nothing(DefinitionKind kind, string name) => false;

    private static string Places(IEnumerable<MasterDataError> errors) =>
        string.Join('\n', errors.Select(e => FormattableString.Invariant($"{e.Line}:{e.Column} {e.Pointer}")));
}
