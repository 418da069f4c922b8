using System.Text;
using Traceability.Acceptance.Releases;
using Traceability.Acceptance.Robustness;
using Traceability.Contracts;
using Traceability.Contracts.Containments;
using Traceability.Contracts.Facts;
using Traceability.Contracts.Narrowing;
using Traceability.Contracts.Scope;
using Traceability.Testing;

namespace Traceability.Client.Tests.Service;

/// <summary>A quality manager's program: a scope asked and saved, a case driven from its opening to its end, through the client only.</summary>
public sealed class CaseTests(CaseTests.Works works) : IClassFixture<CaseTests.Works>
{
    private static readonly LotSuspect Bad = new() { Item = "ADH", Lot = "L1" };

    private TraceabilityClient Client => works.Client;

    [Fact]
    public async Task A_scope_is_asked_for_by_pages_and_each_page_goes_on_where_the_last_ended()
    {
        var first = await Client.AskScopeAsync(Bad, new() { Limit = 2 });
        List<ScopeQuestionAnswer> pages = [];
        await foreach (var page in Client.AskWholeScopeAsync(Bad, limit: 2))
        {
            pages.Add(page);
        }

        Assert.Equal(2, first.Members.Count);
        Assert.Equal(first.Members.Select(m => m.Serial), pages[0].Members.Select(m => m.Serial));
        Assert.Equal(["HEAD/1", "HEAD/2", "LAMP/1", "LAMP/2", "LAMP/3", "LAMP/4"], pages.SelectMany(p => p.Members).Select(m => $"{m.Item}/{m.Serial}"));
        Assert.All(pages, p => Assert.Equal((6, true), (p.Totals.Members, p.Completeness.IsComplete)));
        Assert.Equal(("possible", "lot-missing"), (pages[^1].Members[^1].Verdict, pages[^1].Members[^1].Ways[0].Path[0].Kind));
        Assert.NotNull((await Client.AskScopeAsync(Bad, new() { WithCleared = true })).Cleared);

        var both = new AndSuspect { Of = [Bad, new ToolSuspect { Tool = "SD-1", Window = "all" }] };
        Assert.Equal(["1", "2"], (await Client.AskScopeAsync(both)).Members.Where(m => m.Item == "LAMP" && m.Verdict == "proven").Select(m => m.Serial));
        var unknown = await Assert.ThrowsAsync<TraceabilityProblemException>(() => Client.AskScopeAsync(new OrSuspect { Of = [Bad, new LotSuspect { Item = "ADH", Lot = "NONE" }] }));
        Assert.Equal((404, ProblemCodes.LotUnknown, "/suspect/of/1/lot"), (unknown.Status, unknown.Code, unknown.Problem.Errors![0].Pointer));
    }

    [Fact]
    public async Task A_question_is_saved_replaced_by_its_version_answered_and_removed()
    {
        var saved = await Client.SaveScopeAsync("GELS", new("Gels late", Bad));
        Assert.Equal((1, "GELS"), (saved.Version, (await Client.GetSavedScopeAsync("GELS")).Name));
        Assert.Equal(1, (await Client.SaveScopeAsync("GELS", new("Gels late", Bad))).Version);
        var taken = await Assert.ThrowsAsync<TraceabilityProblemException>(() => Client.SaveScopeAsync("GELS", new("Other", Bad)));
        Assert.Equal(ProblemCodes.ScopeQuestionExists, taken.Code);
        Assert.Equal(2, (await Client.SaveScopeAsync("GELS", new("At the bench", Bad with { Station = LampWorks.Bench }), replaces: 1)).Version);
        Assert.Equal(
            ProblemCodes.ScopeQuestionExists, (await Assert.ThrowsAsync<TraceabilityProblemException>(() => Client.SaveScopeAsync("GELS", new("Late", Bad), replaces: 1))).Code);

        var page = await Client.GetSavedScopesAsync(limit: 10);
        Assert.Equal("At the bench", Assert.Single(page.Scopes).Title);
        Assert.Equal(6, (await Client.GetSavedScopeMembersAsync("GELS")).Totals.Members);
        List<ScopeQuestionMember> members = [];
        await foreach (var part in Client.GetWholeSavedScopeAsync("GELS", limit: 4))
        {
            members.AddRange(part.Members);
        }

        Assert.Equal(6, members.Count);
        Assert.True(await Client.RemoveSavedScopeAsync("GELS"));
        Assert.False(await Client.RemoveSavedScopeAsync("GELS"));
        Assert.Equal(400, (await Assert.ThrowsAsync<TraceabilityProblemException>(() => Client.RemoveSavedScopeAsync("two words"))).Status);
    }

    [Fact]
    public async Task What_would_narrow_it_and_whether_the_material_adds_up_is_told()
    {
        var narrowed = await Client.NarrowScopeAsync(new NarrowingQuestion(Bad, [new("late", Bad with { From = works.At(2_000) })]));
        Assert.Equal((6, 0), (narrowed.Totals.Members, narrowed.Alternatives.Single(a => a.Name == "late").Members));
        Assert.Equal(("lot", "4"), (narrowed.Facts[0].Missing, narrowed.Facts[0].Unit.Serial));

        var lot = new LotRef { Item = "ADH", Lot = "L1" };
        var reconciliation = await Client.GetLotReconciliationAsync(lot);
        Assert.Equal((5, 1), (reconciliation.Proven, reconciliation.Possible));
        Assert.NotEmpty(reconciliation.Warnings);
        var spread = await Client.GetLotDispersionAsync(lot);
        Assert.Equal((5, 3, 1), (spread.Lot.Units, spread.Lot.FinishedUnits, spread.Lot.Shipped));
        Assert.Equal("Fell End Supplies", Assert.Single(spread.Consignees).Consignee);
        await works.CountedAsync();
        var widest = await Client.GetLotDispersionsAsync("ADH", works.At(-1_000), works.At(5_000), limit: 5);
        Assert.Equal(("L1", 3), (Assert.Single(widest.Lots).Lot, widest.Lots[0].FinishedUnits));
        Assert.Empty((await Client.GetLotDispersionsAsync("ADH", to: works.At(-1_000))).Lots);
    }

    [Fact]
    public async Task A_case_is_opened_held_followed_up_closed_and_kept()
    {
        var request = new ContainmentRequest { FactId = FactIds.Next(), Containment = "C-1", Title = "Gels", Reason = "Two tubes", Suspect = Bad, Person = "P-9" };
        var opened = await Client.OpenContainmentAsync(request);
        Assert.Equal(("open", 6, true), (opened.State, opened.Figures.Members, opened.IsScoped));
        Assert.Equal(Bad, opened.Suspect);
        Assert.Equal(6, (await Client.OpenContainmentAsync(request)).Figures.Members);
        var taken = await Assert.ThrowsAsync<TraceabilityProblemException>(() => Client.OpenContainmentAsync(request with { FactId = FactIds.Next() }));
        Assert.Equal((409, ProblemCodes.ContainmentAlreadyOpened), (taken.Status, taken.Code));

        Assert.Equal(["held 4", "left 2"], (await Client.SetContainmentHoldsAsync("C-1", new() { Person = "P-9" })).Results.Select(r => $"{r.Name} {r.Count}"));
        Assert.Equal((6, 0), ((await Client.RefreshContainmentAsync("C-1")).MemberCount, (await Client.RefreshContainmentAsync("C-1")).Added));
        Assert.Equal(["C-1"], (await Client.GetContainmentsAsync(["open"], limit: 5)).Containments.Select(c => c.Containment));
        Assert.Empty((await Client.GetContainmentsAsync(["closed"])).Containments);

        List<ConsigneePage> consignees = [];
        await foreach (var page in Client.GetAllContainmentConsigneesAsync("C-1", limit: 1))
        {
            consignees.Add(page);
        }

        Assert.Equal(["HEAD/1", "LAMP/1"], consignees.SelectMany(p => p.Consignees).SelectMany(c => c.Members).Select(m => $"{m.Unit.Item}/{m.Unit.Serial}"));
        Assert.Equal("PO-1", (await Client.GetContainmentConsigneesAsync("C-1", limit: 2)).Consignees[0].Members[0].OrderReference);
        await FollowUpAndCloseAsync();

        Assert.StartsWith("<!DOCTYPE html>", Encoding.UTF8.GetString(await Client.GetContainmentReportAsync("C-1")), StringComparison.Ordinal);
        Assert.StartsWith("%PDF-", Encoding.ASCII.GetString(await Client.GetContainmentReportAsync("C-1", "pdf")), StringComparison.Ordinal);
        Assert.Equal(7, Encoding.UTF8.GetString(await Client.GetContainmentReportAsync("C-1", "csv")).Split("\r\n", StringSplitOptions.RemoveEmptyEntries).Length);
        Assert.Equal(404, (await Assert.ThrowsAsync<TraceabilityProblemException>(() => Client.GetContainmentReportAsync("C-9"))).Status);
    }

    private async Task FollowUpAndCloseAsync()
    {
        var close = new ContainmentClosed { OccurredAt = works.At(300), Person = "P-9", Containment = "C-1", Conclusion = "All scrapped" };
        var refused = Assert.IsType<FactOutcome.Refused>(await Client.RecordAsync(close));
        Assert.Equal((ProblemCodes.ContainmentMembersOpen, 6), (refused.Problem.Code, refused.Problem.Errors!.Count));

        List<UnitRef> open = [];
        await foreach (var page in Client.GetAllContainmentMembersAsync("C-1", "open", limit: 4))
        {
            open.AddRange(page.Members.Select(m => m.Unit));
        }

        Assert.Equal(6, open.Count);
        Assert.IsType<FactOutcome.Recorded>(await Client.RecordAsync(
            new FollowUpRecorded { OccurredAt = works.At(310), Person = "P-9", Containment = "C-1", Outcome = FollowUpOutcome.Scrapped, Units = open }));
        Assert.Empty((await Client.GetContainmentMembersAsync("C-1", "open", limit: 1)).Members);
        Assert.IsType<FactOutcome.Recorded>(await Client.RecordAsync(close with { OccurredAt = works.At(320) }));
        var closed = await Client.GetContainmentAsync("C-1");
        Assert.Equal(("closed", 6L, 6L), (closed.State, closed.Figures.Effectiveness.Numerator, closed.Figures.Effectiveness.Denominator));
    }

    /// <summary>Lamp 1 is shipped, 2 is complete, 3 is in process, of 4 nobody recorded the lot.</summary>
    public sealed class Works : IAsyncLifetime, IDisposable
    {
        private ServiceHost host = null!;

        public TraceabilityClient Client { get; private set; } = null!;

        public Uri Address => host.Address;

        public string Key => host.AdministratorKey;

        internal Lamps Lamps { get; private set; } = null!;

        public DateTimeOffset At(double minutes) => DateTimeOffset.Parse(Lamps.Works.Time(minutes), System.Globalization.CultureInfo.InvariantCulture);

        /// <summary>Waits until lots have been counted in the background.</summary>
        public async Task CountedAsync()
        {
            for (var i = 0; (await Client.GetLotDispersionsAsync("ADH")).Lots is not [{ FinishedUnits: 3 }]; i++)
            {
                Assert.True(i < 600, "The lots are not counted.");
                await Task.Delay(100);
            }
        }

        public async Task InitializeAsync()
        {
            host = await ServiceHost.StartAsync("--Dispersion:Pause=00:00:00.1");
            Lamps = new(host, 71);
            await Lamps.DefineAsync();
            await Lamps.TellAsync([.. Lamps.Complete(1, 0), .. Lamps.Complete(2, 5), .. Lamps.Works.SimpleLamp(3, 0)]);
            await Lamps.TellAsync(
            [
                Lamps.Works.Fact("unit-released", 60, LampWorks.Unit("LAMP", 1)),
                Lamps.Works.Fact("unit-shipped", 70, LampWorks.Unit("LAMP", 1) + ""","consignee":"Fell End Supplies","orderReference":"PO-1" """),
                .. Lamps.Works.SimpleLamp(4, 0)[..2],
                Lamps.Works.Fact("step-completed", 4, LampWorks.Unit("LAMP", 4) + ""","step":"GLUE" """),
            ]);
            Client = new(new() { Address = host.Address, Key = host.AdministratorKey, TryTimeout = TimeSpan.FromSeconds(60) });
        }

        public async Task DisposeAsync() => await host.DisposeAsync();

        public void Dispose() => Client.Dispose();
    }
}
