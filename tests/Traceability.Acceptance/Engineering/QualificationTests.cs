using Traceability.Contracts;
using Traceability.Contracts.Definitions;
using Traceability.Contracts.People;

namespace Traceability.Acceptance.Engineering;

/// <summary>Who may bond, until when, and under whose eyes a trainee may.</summary>
public sealed class QualificationTests
{
    private const string File = """
        asOf: 2026-01-05T08:00:00Z
        sites: [ { site: PIER, description: Works, timeZone: Atlantic/Azores } ]
        stations: [ { station: TABLE, site: PIER, description: Table } ]
        items: [ { item: LAMP, kind: product, description: Lamp } ]
        people:
          - { person: P-1, displayName: Trainee }
          - { person: P-2, displayName: Bonder, qualifications: [ { qualification: BONDING } ] }
          - { person: P-3, displayName: Trainer, qualifications: [ { qualification: SOLDERING } ] }
        routings:
          - item: LAMP
            revision: A
            description: First
            release: true
            steps: [ { code: BOND, name: Bond, qualification: BONDING, allowsSupervised: true } ]
        """;

    [Fact]
    public async Task Training_qualifies_supervision_stands_in_and_what_ends_soon_is_listed()
    {
        await using var host = await Shop.OpenAsync(File);
        var shop = new Shop(host);
        await shop.TellAsync(""" "type":"unit-opened","occurredAt":"2026-02-02T08:00:00Z","station":"TABLE","unit":{"item":"LAMP","serial":"1"} """);

        Assert.Equal("no person-not-qualified", await ReadyAsync(shop, """{"person":"P-1"}"""));
        Assert.Equal("no supervisor-not-qualified", await ReadyAsync(shop, """{"person":"P-1","supervisor":"P-3"}"""));
        Assert.Equal("go ", await ReadyAsync(shop, """{"person":"P-1","supervisor":"P-2"}"""));

        Assert.Equal("person-not-qualified", Assert.Single((await shop.ReceiptAsync(Bond(9, string.Empty))).Findings).Kind);
        Assert.Equal("supervisor-not-qualified", Assert.Single((await shop.ReceiptAsync(Bond(10, ",\"supervisor\":\"P-3\""))).Findings).Kind);
        Assert.Empty((await shop.ReceiptAsync(Bond(11, ",\"supervisor\":\"P-2\""))).Findings);
        await shop.TellAsync(""" "type":"training-completed","occurredAt":"2026-02-02T12:00:00Z","subject":"P-1","topic":"BOND-COURSE","trainer":"P-3","evidence":"sheet 12","grants":["BONDING"],"validUntil":"2099-03-01T00:00:00Z" """);
        Assert.Empty((await shop.ReceiptAsync(Bond(13, string.Empty))).Findings);

        var all = await shop.AskAsync<QualificationPage>("/api/people/qualifications");
        Assert.Equal(["P-1 BONDING BOND-COURSE", "P-2 BONDING ", "P-3 SOLDERING "], all.Entries.Select(e => $"{e.Person} {e.Qualification} {e.Topic}"));
        var may = await shop.AskAsync<QualificationPage>("/api/people/qualifications?qualification=BONDING&limit=1");
        Assert.Equal(("P-1", "P-1"), (Assert.Single(may.Entries).Person, may.After));
        Assert.Equal("P-2", Assert.Single((await shop.AskAsync<QualificationPage>("/api/people/qualifications?qualification=BONDING&after=P-1")).Entries).Person);
        Assert.Equal("P-1", Assert.Single((await shop.AskAsync<QualificationPage>("/api/people/qualifications?expiringBefore=2099-03-02T00:00:00Z")).Entries).Person);
        Assert.Empty((await shop.AskAsync<QualificationPage>("/api/people/qualifications?expiringBefore=2099-03-01T00:00:00Z")).Entries);

        var person = await shop.AskAsync<PersonView>("/api/people/P-1");
        Assert.Equal(("BOND-COURSE", "P-3", "sheet 12"), Assert.Single(person.Trainings.Select(t => (t.Topic, t.Trainer, t.Evidence))));
        Assert.Equal("BONDING", Assert.Single(person.Qualifications).Qualification);
    }

    private static async Task<string> ReadyAsync(Shop shop, string question)
    {
        var answer = await shop.AskAsync<ReadinessAnswer>("/api/units/LAMP/1/steps/BOND/readiness", question);
        Assert.True(answer.Needs!.AllowsSupervised);
        return $"{(answer.Answer == ReadinessVerdict.Go ? "go" : "no")} {string.Join(' ', answer.Reasons.Select(r => r.Kind))}";
    }

    private static string Bond(int hour, string more) =>
        $$""" "type":"step-completed","occurredAt":"2026-02-02T{{hour:00}}:00:00Z","station":"TABLE","person":"P-1","unit":{"item":"LAMP","serial":"1"},"step":"BOND"{{more}} """;
}
