using System.Text.Json;
using Traceability.Contracts;
using Traceability.Contracts.Definitions;
using Traceability.Contracts.Revisions;
using Traceability.Contracts.Units;

namespace Traceability.Acceptance.Engineering;

/// <summary>Revision B comes while units of revision A are being built: approved by a second person, compared, and moved to where that can be.</summary>
public sealed class RevisionTests
{
    private const string File = """
        asOf: 2026-01-05T08:00:00Z
        person: P-1
        sites: [ { site: PIER, description: Works, timeZone: Atlantic/Azores } ]
        stations: [ { station: TABLE, site: PIER, description: Table } ]
        items:
          - { item: LAMP, kind: product, description: Lamp }
          - { item: ADH, kind: consumable, description: Adhesive }
          - { item: ADH-N, kind: consumable, description: New adhesive }
        people: [ { person: P-1, displayName: Engineer }, { person: P-2, displayName: Second }, { person: P-3, displayName: Lead } ]
        lots: [ { item: ADH, lot: L1, isReleased: true } ]
        routings:
          - item: LAMP
            revision: A
            description: First
            release: true
            steps:
              - { code: WIRE, name: Wire }
              - { code: GLUE, name: Glue, prerequisites: [WIRE], materials: [ { code: ADHESIVE, item: ADH } ] }
              - { code: CLOSE, name: Close, isPointOfNoReturn: true, hides: [GLUE], prerequisites: [GLUE] }
        """;

    private const string RevisionB = """
        "type":"routing-drafted","occurredAt":"2026-02-01T08:00:00Z","person":"P-1","revision":{"item":"LAMP","revision":"B","description":"New adhesive",
        "effectivity":{"serialFrom":"100"},"steps":[
          {"code":"WIRE","name":"Wire"},
          {"code":"GLUE","name":"Glue","prerequisites":["WIRE"],"materials":[{"code":"ADHESIVE","item":"ADH-N"}]},
          {"code":"CLOSE","name":"Close","isPointOfNoReturn":true,"hides":["GLUE"],"prerequisites":["GLUE"]}]}
        """;

    [Fact]
    public async Task A_revision_is_approved_compared_and_units_move_to_it_once()
    {
        await using var host = await Shop.OpenAsync(File);
        var shop = new Shop(host);
        await ApproveAsync(shop);
        await CompareAsync(shop);
        await BuildAsync(shop);
        await MoveAsync(shop);
    }

    private static async Task ApproveAsync(Shop shop)
    {
        const string release = """ "type":"routing-released","occurredAt":"2026-02-03T08:00:00Z","item":"LAMP","revision":"B","releasedBy":"P-3" """;
        await shop.TellAsync(""" "type":"item-defined","occurredAt":"2026-01-20T08:00:00Z","item":"LAMP","kind":"product","description":"Lamp","approvalsNeeded":1""");
        await shop.TellAsync(RevisionB);
        Assert.Equal("approval-missing", await shop.RefusedAsync(release));
        Assert.Equal("approver-not-independent", await shop.RefusedAsync(Approval("P-1")));
        Assert.Equal("person-unknown", await shop.RefusedAsync(Approval("P-8")));
        var hasty = await shop.TellAsync(Approval("P-2"));
        Assert.Equal("approval-given", await shop.RefusedAsync(Approval("P-2")));
        await shop.TellAsync($$""" "type":"record-voided","occurredAt":"2026-02-02T09:00:00Z","record":"{{hasty}}","reason":"not read","authorisedBy":"P-2" """);
        Assert.Equal("approval-missing", await shop.RefusedAsync(release));
        await shop.TellAsync(Approval("P-2"));
        Assert.Equal("releaser-not-named", await shop.RefusedAsync(release.Replace(",\"releasedBy\":\"P-3\"", string.Empty, StringComparison.Ordinal)));
        await shop.TellAsync(release);

        var lives = (await shop.AskAsync<RoutingView>("/api/routings/LAMP")).Lives;
        Assert.Equal(["A released P-1  ", "B released P-1 P-2 P-3"], lives.Select(l => $"{l.Revision} {l.State} {string.Join(',', l.Authors)} {string.Join(',', l.Approvals.Select(a => a.ApprovedBy))} {l.ReleasedBy}"));
    }

    private static async Task CompareAsync(Shop shop)
    {
        var difference = await shop.AskAsync<RevisionDifference>("/api/routings/LAMP/differences?from=A&to=B");
        Assert.Equal(
            [
                "The revision: description is now New adhesive; before: First.",
                "The revision: effectivity is now from serial 100; before: every unit.",
                "Step GLUE, material ADHESIVE: item is now ADH-N; before: ADH.",
            ],
            difference.Changes.Select(c => c.Sentence));
        Assert.Equal(("changed", "material", "GLUE", "ADHESIVE", "item"), difference.Changes.Select(c => (c.Kind, c.Part, c.Step!, c.Code, c.Member)).Last());

        var effectivity = await shop.AskAsync<RoutingEffectivity>("/api/routings/LAMP/effectivity");
        Assert.Equal(["A every unit False", "B from serial 100 False"], effectivity.Revisions.Select(r => $"{r.Revision} {r.Units} {r.IsEffectiveForNone}"));
        Assert.Equal(("A", "B", "from serial 100", false), Assert.Single(effectivity.Overlaps.Select(o => (o.Earlier, o.Later, o.Where, o.IsWhole))));
    }

    // Lamp 5 is wired, 6 is glued, 10 is closed, 7 has left; 100 is under revision B from the start.
    private static async Task BuildAsync(Shop shop)
    {
        foreach (var (serial, steps) in new[] { (5, 1), (6, 2), (10, 3), (7, 3), (100, 1) })
        {
            var unit = $$""" "station":"TABLE","person":"P-1","unit":{"item":"LAMP","serial":"{{serial}}"}""";
            await shop.TellAsync($$""" "type":"unit-opened","occurredAt":"2026-02-10T08:00:00Z",{{unit}} """);
            foreach (var (step, more) in new[] { ("WIRE", ""), ("GLUE", ""","materials":[{"item":"ADH","lots":["L1"]}]"""), ("CLOSE", "") }.Take(steps))
            {
                await shop.TellAsync($$""" "type":"step-completed","occurredAt":"2026-02-10T09:{{(step == "WIRE" ? 10 : step == "GLUE" ? 20 : 30)}}:00Z",{{unit}},"step":"{{step}}"{{more}} """);
            }
        }

        await shop.TellAsync(""" "type":"unit-released","occurredAt":"2026-02-11T08:00:00Z","unit":{"item":"LAMP","serial":"7"} """);
    }

    private static async Task MoveAsync(Shop shop)
    {
        const string question = """{"to":"B","from":"A","reason":"better glue","authorisedBy":"P-3"}""";
        var plan = await shop.AskAsync<MovePlan>("/api/routings/LAMP/move-plans", question);
        Assert.Equal(
            ["5 can-move WIRE |  | ", "6 can-move WIRE | GLUE | ", "10 cannot-move WIRE | GLUE CLOSE | point-of-no-return-passed CLOSE"],
            plan.Units.Select(u => $"{u.Unit.Serial} {u.Verdict} {string.Join(' ', u.CarriesOver.Select(s => s.Step))} | {string.Join(' ', u.Again.Select(s => s.Step))} | {string.Join(' ', u.Obstacles.Select(o => $"{o.Kind} {o.Step}"))}"));
        Assert.Null(plan.Units[2].Fact);
        Assert.Null(plan.After);

        // A page at a time, and only a range.
        var first = await shop.AskAsync<MovePlan>("/api/routings/LAMP/move-plans", question.Replace("}", ",\"limit\":2}", StringComparison.Ordinal));
        Assert.Equal("6", first.After);
        var rest = await shop.AskAsync<MovePlan>("/api/routings/LAMP/move-plans", question.Replace("}", ",\"limit\":2,\"after\":\"6\"}", StringComparison.Ordinal));
        Assert.Equal("10", Assert.Single(rest.Units).Unit.Serial);
        var range = await shop.AskAsync<MovePlan>("/api/routings/LAMP/move-plans", question.Replace("}", ",\"serialFrom\":\"6\",\"serialTo\":\"9\"}", StringComparison.Ordinal));
        Assert.Equal("6", Assert.Single(range.Units).Unit.Serial);

        // Lamp 5 changes after the plan was made: its move is refused. Lamp 6 moves, and once only.
        await shop.TellAsync(""" "type":"unit-held","occurredAt":"2026-02-12T08:00:00Z","unit":{"item":"LAMP","serial":"5"},"reason":"look at it" """);
        var (stale, problem) = await shop.SendAsync(JsonSerializer.Serialize(plan.Units[0].Fact, WireJson.Options));
        Assert.Equal((409, "unit-changed"), (stale, JsonSerializer.Deserialize<JsonElement>(problem).GetProperty("code").GetString()));
        var fact = JsonSerializer.Serialize(plan.Units[1].Fact, WireJson.Options);
        Assert.Equal(201, (await shop.SendAsync(fact)).Status);
        var (again, receipt) = await shop.SendAsync(fact);
        Assert.Equal((200, true), (again, JsonSerializer.Deserialize<FactReceipt>(receipt, WireJson.Options)!.IsRepeat));

        var moved = await shop.AskAsync<UnitView>("/api/units/LAMP/6");
        Assert.Equal(("B", 4, "GLUE"), (moved.Unit.Revision, moved.Version, Assert.Single(moved.NextSteps)));
        Assert.Equal("A", (await shop.AskAsync<UnitView>("/api/units/LAMP/5")).Unit.Revision);
        var after = await shop.AskAsync<MovePlan>("/api/routings/LAMP/move-plans", """{"to":"B","reason":"r","authorisedBy":"P-3"}""");
        Assert.Equal(["5 can-move", "6 already-there", "10 cannot-move", "100 already-there"], after.Units.Select(u => $"{u.Unit.Serial} {u.Verdict}"));
    }

    private static string Approval(string person) =>
        $$""" "type":"routing-approved","occurredAt":"2026-02-02T08:00:00Z","item":"LAMP","revision":"B","approvedBy":"{{person}}" """;
}
