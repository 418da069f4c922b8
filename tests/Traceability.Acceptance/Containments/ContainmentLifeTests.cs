using System.Text.Json;
using Traceability.Acceptance.Releases;
using Traceability.Acceptance.Robustness;
using Traceability.Contracts.Alarms;
using Traceability.Contracts.Containments;
using Traceability.Contracts.Units;
using Traceability.Testing;
using UglyToad.PdfPig;

namespace Traceability.Acceptance.Containments;

/// <summary>An adhesive lot is bad: a quality manager freezes what it reaches, stops the rest, follows up, and closes; late facts come in the middle.</summary>
public sealed class ContainmentLifeTests(ContainmentLifeTests.Fixture fixture) : IClassFixture<ContainmentLifeTests.Fixture>
{
    private const string Suspect = """{"kind":"lot","item":"ADH","lot":"L1"}""";
    private const string Title = "=Bad <script>alert(1)</script> gl\u00FCe \u81A0";
    private static readonly TimeSpan Patience = TimeSpan.FromSeconds(60);

    private ServiceHost Host => fixture.Host;

    private Lamps Lamps => fixture.Lamps;

    private LampWorks Works => fixture.Lamps.Works;

    [Fact]
    public async Task A_case_is_driven_from_its_opening_to_its_end_with_late_facts_in_the_middle()
    {
        await BuildAsync();
        await OpenAsync();
        await HoldAsync();
        await TellConsigneesAsync();
        await ComeLateAsync();
        await FollowUpAsync();
        await CloseAsync();
        await ComeLateAgainAsync();
        await CorrectAsync();
        await ReportAsync();
    }

    // Lamp 1 is shipped, 2 is complete, 3 is in process, of 4 nobody recorded the lot.
    private async Task BuildAsync()
    {
        await Lamps.TellAsync([.. Lamps.Complete(1, 0), .. Lamps.Complete(2, 5), .. Works.SimpleLamp(3, 0)]);
        await Lamps.TellAsync(
        [
            Works.Fact("unit-released", 60, LampWorks.Unit("LAMP", 1)),
            Works.Fact("unit-shipped", 70, LampWorks.Unit("LAMP", 1) + ""","consignee":"Fell End Supplies","orderReference":"PO-1" """),
            .. Works.SimpleLamp(4, 0)[..2],
            Works.Fact("step-completed", 4, LampWorks.Unit("LAMP", 4) + ""","step":"GLUE" """),
        ]);
    }

    private async Task OpenAsync()
    {
        var id = Works.Id();
        Assert.Equal((404, "lot-unknown"), await Refused(PostAsync("/api/containments", Opening(Works.Id(), "CASE-9").Replace("\"L1\"", "\"NONE\"", StringComparison.Ordinal))));
        var (status, body) = await PostAsync("/api/containments", Opening(id, "CASE-1"));
        Assert.True(status == 201, body.GetRawText());
        var opened = Read<ContainmentView>(body);
        Assert.Equal(("open", Title, "P-9", true), (opened.State, opened.Title, opened.OpenedBy, opened.IsScoped));
        Assert.Equal("possible 1, proven 5", Counts(opened.Figures.Verdicts));
        Assert.Equal("in-process 4, shipped 2", Counts(opened.Figures.Places));
        Assert.Equal((6, 6, 0, 2), (opened.Figures.Members, opened.Figures.Open, opened.Figures.Late, opened.Figures.Left));
        Assert.Equal(200, (await PostAsync("/api/containments", Opening(id, "CASE-1"))).Status);
        Assert.Equal((409, "fact-id-reused"), await Refused(PostAsync("/api/containments", Opening(id, "CASE-2"))));
        Assert.Equal((409, "containment-already-opened"), await Refused(PostAsync("/api/containments", Opening(Works.Id(), "CASE-1"))));
        Assert.Equal(["HEAD/1", "HEAD/2", "LAMP/1", "LAMP/2", "LAMP/3", "LAMP/4"], (await MembersAsync()).Select(Name));
        Assert.Equal(403, (await Lamps.SendAsAsync(Host.Engineer, "/api/containments", Opening(Works.Id(), "CASE-3"))).Status);
    }

    private async Task HoldAsync()
    {
        Assert.Equal("held 4, left 2", Counts((await SetHoldsAsync()).Results));
        Assert.Equal("already-held 4, left 2", Counts((await SetHoldsAsync()).Results));
        var members = (await MembersAsync()).ToDictionary(Name, StringComparer.Ordinal);

        // The head is stopped by the hold on the lamp that it is inside of.
        Assert.Equal(("LAMP", "2", "on-hold", true), (members["HEAD/2"].Now.Inside!.Item, members["HEAD/2"].Now.Inside!.Serial, members["HEAD/2"].Now.Place, members["HEAD/2"].IsHeldByCase));
        Assert.False(members["LAMP/1"].IsHeldByCase);
        Assert.Contains("on-hold", (await Lamps.AskAsync<ReleaseState>("/api/units/LAMP/2/release")).Blockers.Select(b => b.Code));

        // A hold of another cause comes and goes; the case's stands.
        await Lamps.TellAsync(Works.Fact("unit-held", 100, LampWorks.Unit("LAMP", 3) + ""","reason":"scratch" """));
        Assert.Equal(["*", "CASE-1"], (await UnitAsync(3)).Holds);
        await Lamps.TellAsync(Works.Fact("unit-hold-lifted", 101, LampWorks.Unit("LAMP", 3) + ""","reason":"polished" """));
        Assert.Equal(("on-hold", "CASE-1"), ((await UnitAsync(3)).Place, Assert.Single((await UnitAsync(3)).Holds)));
        Assert.Equal(4, (await CaseAsync()).Figures.Held);
    }

    private async Task TellConsigneesAsync()
    {
        var page = await Lamps.AskAsync<ConsigneePage>("/api/containments/CASE-1/consignees?limit=1");
        var consignee = Assert.Single(page.Consignees);
        var head = Assert.Single(consignee.Members);
        Assert.Equal(("Fell End Supplies", "HEAD", "LAMP", "PO-1", "proven"), (consignee.Consignee, head.Unit.Item, head.Shipped.Item, head.OrderReference, head.Verdict));
        Assert.Equal(DateTimeOffset.Parse(Works.Time(70), System.Globalization.CultureInfo.InvariantCulture), head.ShippedAt);
        var next = await Lamps.AskAsync<ConsigneePage>($"/api/containments/CASE-1/consignees?limit=1&after={page.After}");
        Assert.Equal("LAMP", Assert.Single(Assert.Single(next.Consignees).Members).Unit.Item);
        Assert.Null(next.After);
    }

    // A terminal was off the net.
    private async Task ComeLateAsync()
    {
        var late = Works.SimpleLamp(5, 10);
        await Lamps.TellAsync([.. late]);
        await WithinAsync(async () => (await CaseAsync()).Figures.Late == 1, "late member");
        var member = Assert.Single(await MembersAsync("only=late"));
        Assert.Equal(("LAMP/5", 2, late[^1].Id, false), (Name(member), member.Run, member.Evidence, member.IsAcknowledged));
        await WithinAsync(async () => (await AlarmsAsync()).Contains("containment-members-late"), "alarm");

        // The case says so, too, and is not closed over it. Late members are held without being asked.
        await WithinAsync(async () => (await UnitAsync(5)).Place == "on-hold", "hold on the late member");
        Assert.Equal(201, (await TellAsync("late-members-acknowledged", 200, "")).Status);
        Assert.Equal(0, (await CaseAsync()).Figures.LateNotAcknowledged);
        await WithinAsync(async () => !(await AlarmsAsync()).Contains("containment-members-late"), "end of the alarm");
    }

    private async Task FollowUpAsync()
    {
        Assert.Equal((404, "unit-not-contained"), Refused(await TellAsync("follow-up-recorded", 210, Outcome("scrapped", "LAMP/3", "LAMP/404"))));
        Assert.Equal((400, "fact-malformed"), Refused(await TellAsync("follow-up-recorded", 210, Outcome("not-reachable", "LAMP/1"))));
        Assert.Equal(201, (await TellAsync("follow-up-recorded", 210, Outcome("consignee-notified", "LAMP/1", "HEAD/1"))).Status);
        Assert.Equal(201, (await TellAsync("follow-up-recorded", 211, Outcome("inspected-good", "LAMP/3"))).Status);

        // One left in spite of its hold, which waits for it to come back.
        await Lamps.TellAsync(Works.Fact("unit-shipped", 212, LampWorks.Unit("LAMP", 4) + ""","consignee":"Tarn Works" """));
        Assert.Equal("already-held 3, left 3, lifted 1", Counts((await SetHoldsAsync()).Results));
        Assert.Equal("in-process", (await UnitAsync(3)).Place);
        Assert.Equal(("shipped", "CASE-1"), ((await UnitAsync(4)).Place, Assert.Single((await UnitAsync(4)).Holds)));
        var figures = (await CaseAsync()).Figures;
        Assert.Equal((7, 6, 3, 1L, 7L), (figures.Members, figures.Open, figures.WithOutcome, figures.Effectiveness.Numerator, figures.Effectiveness.Denominator));
        Assert.Equal(("consignee-notified 2", 0L, 3L), (Counts(figures.OutcomesOfLeft), figures.EffectivenessOfLeft.Numerator, figures.EffectivenessOfLeft.Denominator));
        Assert.Equal(7, figures.TimeToContain.Count);
    }

    private async Task CloseAsync()
    {
        var refused = await TellAsync("containment-closed", 300, "\"conclusion\":\"done\"");
        Assert.Equal((409, "containment-members-open"), Refused(refused));
        Assert.Equal(6, refused.Body.GetProperty("errors").GetArrayLength());
        Assert.Equal(201, (await TellAsync("follow-up-recorded", 301, Outcome("replaced", "LAMP/1", "HEAD/1"))).Status);
        Assert.Equal(201, (await TellAsync("follow-up-recorded", 302, Outcome("scrapped", "LAMP/2", "HEAD/2", "LAMP/4", "LAMP/5"))).Status);
        Assert.Equal(400, (await Terminal.PostAsync(Host.Quality, Works.Fact("containment-closed", 303, TimeSpan.Zero, null, null, "\"containment\":\"CASE-1\",\"conclusion\":\"done\""))).Status);
        Assert.Equal(201, (await TellAsync("containment-closed", 303, "\"conclusion\":\"every lamp is accounted for\"")).Status);
        Assert.Equal("closed", (await CaseAsync()).State);
        Assert.Equal((409, "containment-closed"), Refused(await TellAsync("follow-up-recorded", 304, Outcome("reworked", "LAMP/3"))));
        Assert.Equal("CASE-1", Assert.Single((await Lamps.AskAsync<ContainmentPage>("/api/containments?state=closed")).Containments).Containment);
    }

    private async Task ComeLateAgainAsync()
    {
        await Lamps.TellAsync([.. Works.SimpleLamp(6, 12)]);
        Assert.Equal(200, (await PostAsync("/api/containments/CASE-1/refresh", string.Empty)).Status);
        await WithinAsync(async () => (await CaseAsync()) is { State: "open", Figures.Open: 1 }, "reopening by a late member");
        Assert.Equal(201, (await TellAsync("late-members-acknowledged", 400, "")).Status);
        Assert.Equal(201, (await TellAsync("follow-up-recorded", 401, Outcome("reworked", "LAMP/6"))).Status);
        Assert.Equal(201, (await TellAsync("containment-closed", 402, "\"conclusion\":\"now it is\"")).Status);
        Assert.Equal("closed", (await CaseAsync()).State);
    }

    private async Task CorrectAsync()
    {
        var member = (await MembersAsync()).Single(m => Name(m) == "LAMP/6");
        var body = $"\"record\":\"{member.Outcome!.Record}\",\"reason\":\"wrong lamp\",\"authorisedBy\":\"P-9\"";
        Assert.Equal(201, (await Terminal.PostAsync(Host.Quality, Works.Fact("record-voided", 410, TimeSpan.Zero, null, "P-9", body))).Status);
        var view = await CaseAsync();
        Assert.Equal(("open", 1), (view.State, view.Words[^1].Lacking));
        Assert.Equal(409, (await Terminal.PostAsync(Host.Quality, Works.Fact(
            "record-voided", 411, TimeSpan.Zero, null, "P-9", $"\"record\":\"{member.FoundBy}\",\"reason\":\"r\",\"authorisedBy\":\"P-9\""))).Status);
    }

    private async Task ReportAsync()
    {
        var html = await Host.Quality.GetStringAsync(new Uri("/api/containments/CASE-1/report", UriKind.Relative));
        Assert.DoesNotContain("<script>", html, StringComparison.Ordinal);
        Assert.Contains("Fell End Supplies", html, StringComparison.Ordinal);
        Assert.Contains("every lamp is accounted for", html, StringComparison.Ordinal);

        var lines = (await Host.Quality.GetStringAsync(new Uri("/api/containments/CASE-1/report?format=csv", UriKind.Relative))).Split("\r\n", StringSplitOptions.RemoveEmptyEntries);
        Assert.Equal(["HEAD,1", "HEAD,2", "LAMP,1", "LAMP,2", "LAMP,3", "LAMP,4", "LAMP,5", "LAMP,6"], lines.Skip(1).Select(l => string.Join(',', l.Split(',').Take(2))));

        using var pdf = PdfDocument.Open(await Host.Quality.GetByteArrayAsync(new Uri("/api/containments/CASE-1/report?format=pdf", UriKind.Relative)));
        var text = string.Concat(pdf.GetPages().Select(p => p.Text));
        Assert.Contains("glüe [U+81A0]", text, StringComparison.Ordinal);
        Assert.Contains("Fell End Supplies", text, StringComparison.Ordinal);
        Assert.Contains("LAMP/6", text, StringComparison.Ordinal);
    }

    private static string Opening(Guid id, string number) => JsonSerializer.Serialize(new
    {
        factId = id,
        containment = number,
        title = Title,
        reason = "gels late",
        suspect = JsonDocument.Parse(Suspect).RootElement,
        person = "P-9",
        holdsLate = true,
    });

    private static string Outcome(string outcome, params string[] units) =>
        $"\"outcome\":\"{outcome}\",\"units\":[{string.Join(',', units.Select(u => u.Split('/')).Select(u => $"{{\"item\":\"{u[0]}\",\"serial\":\"{u[1]}\"}}"))}]";

    private static string Name(ContainmentMemberView member) => $"{member.Unit.Item}/{member.Unit.Serial}";

    private static string Counts(IReadOnlyList<NamedCount> counts) => string.Join(", ", counts.Select(c => $"{c.Name} {c.Count}"));

    private static T Read<T>(JsonElement body) => body.Deserialize<T>(Contracts.WireJson.Options)!;

    private static (int, string) Refused(FactReply reply) => (reply.Status, reply.Code);

    private static async Task<(int, string)> Refused(Task<(int Status, JsonElement Body)> answer)
    {
        var (status, body) = await answer;
        return (status, body.TryGetProperty("code", out var code) ? code.GetString()! : string.Empty);
    }

    private static async Task WithinAsync(Func<Task<bool>> holds, string what)
    {
        var until = TimeProvider.System.GetUtcNow() + Patience;
        while (!await holds())
        {
            Assert.True(TimeProvider.System.GetUtcNow() < until, $"No {what} within {Patience}.");
            await Task.Delay(TimeSpan.FromMilliseconds(200));
        }
    }

    private Task<(int Status, JsonElement Body)> PostAsync(string path, string body) => Lamps.SendAsAsync(Host.Quality, path, body);

    private async Task<HoldsSet> SetHoldsAsync() => Read<HoldsSet>((await PostAsync("/api/containments/CASE-1/holds", """{"person":"P-9"}""")).Body);

    private Task<FactReply> TellAsync(string type, double at, string members) => Terminal.PostAsync(
        Host.Quality, Works.Fact(type, at, TimeSpan.Zero, null, "P-9", "\"containment\":\"CASE-1\"" + (members.Length == 0 ? string.Empty : "," + members)));

    private Task<ContainmentView> CaseAsync() => Lamps.AskAsync<ContainmentView>("/api/containments/CASE-1");

    private async Task<IReadOnlyList<ContainmentMemberView>> MembersAsync(string query = "limit=1000") =>
        (await Lamps.AskAsync<ContainmentMemberPage>($"/api/containments/CASE-1/members?{query}")).Members;

    private async Task<UnitSummary> UnitAsync(int serial) => (await Lamps.AskAsync<UnitView>($"/api/units/LAMP/{serial}")).Unit;

    private async Task<IReadOnlyList<string>> AlarmsAsync() => [.. (await Lamps.AskAsync<AlarmList>("/api/alarms")).Alarms.Select(a => a.Kind)];

    /// <summary>A service with what lamps are built by, which looks often.</summary>
    public sealed class Fixture : IAsyncLifetime
    {
        /// <summary>Gets the service.</summary>
        public ServiceHost Host { get; private set; } = null!;

        internal Lamps Lamps { get; private set; } = null!;

        /// <inheritdoc />
        public async Task InitializeAsync()
        {
            Host = await ServiceHost.StartAsync("--Containments:WatchPause=00:00:00.2");
            Lamps = new(Host, 77);
            await Lamps.DefineAsync();
        }

        /// <inheritdoc />
        public async Task DisposeAsync()
        {
            // Holds by name are part of the rows that a fresh judgement gives.
            await Tables.SettleAsync(Host.Database);
            var differences = await FreshJudgement.DifferencesAsync(Host.Database);
            await Host.DisposeAsync();
            Assert.Equal(string.Empty, differences);
        }
    }
}
