using System.Globalization;
using Traceability.Contracts.Findings;
using Traceability.Domain.Judging;
using Traceability.Service.Tests.Reading;
using Traceability.Testing.Building;
using Xunit;

namespace Traceability.Service.Tests.Findings;

public sealed class FindingAnswerTests
{
    [Fact]
    public async Task Pages_stay_as_they_were_when_findings_come_and_go_between_them()
    {
        await using var host = await StartAsync();
        for (var unit = 0; unit < 6; unit++)
        {
            // Three findings a unit, two of them at one moment that all units share.
            await host.StoreAsync(UnitWith(unit));
        }

        var whole = (await host.GetAsync<FindingPage>("/api/findings?limit=100")).Findings.Select(Key).ToArray();
        Assert.Equal(18, whole.Length);
        List<string> read = [];
        string? after = null;
        var page = 0;
        do
        {
            var answer = await host.GetAsync<FindingPage>($"/api/findings?limit=4{(after is null ? string.Empty : "&after=" + after)}");
            read.AddRange(answer.Findings.Select(Key));
            after = answer.After;

            // Newer ones come, one that was read goes, and an unread one stays where it is.
            page++;
            await host.StoreAsync(Judged.Unit($"9{page}", findings: [Judged.Finding(FindingKinds.CheckFailed, 500 + page)]));
            if (page == 1)
            {
                var gone = answer.Findings[0].Unit!.Serial;
                await host.StoreAsync(Judged.Unit(gone, findings: UnitWith(int.Parse(gone, CultureInfo.InvariantCulture)).Findings.Where(f => f.At != answer.Findings[0].At)));
            }
        }
        while (after is not null);

        Assert.Equal(whole, read);
        Assert.Equal(whole.OrderByDescending(k => k, StringComparer.Ordinal).Select(k => k[..33]), read.Select(k => k[..33]));
    }

    [Fact]
    public async Task The_last_full_page_says_that_nothing_follows()
    {
        await using var host = await StartAsync();
        await host.StoreAsync(UnitWith(1));

        Assert.Null((await host.GetAsync<FindingPage>("/api/findings?limit=3")).After);
        Assert.NotNull((await host.GetAsync<FindingPage>("/api/findings?limit=2")).After);
    }

    [Fact]
    public async Task Findings_can_be_narrowed_by_what_they_are_about()
    {
        await using var host = await StartAsync();
        await host.DefineAsync(Judged.Item("CA-2"));
        await host.StoreAsync(
            Judged.Unit("1", findings: [Judged.Finding(FindingKinds.CheckFailed, 0, "SEATED"), Judged.Finding(FindingKinds.ClockDoubtful, 10, step: "TEST", isDefect: false)]),
            Judged.Unit("2", findings: [Judged.Finding(FindingKinds.CheckFailed, 20, "SEATED")]),
            Judged.Unit("1", findings: [Judged.Finding(FindingKinds.LotExpired, 30)], item: "CA-2"));

        Assert.Equal(["FP-2/2", "FP-2/1", "FP-2/1"], await UnitsAsync("item=FP-2"));
        Assert.Equal(["CA-2/1"], await UnitsAsync("item=CA-2&serial=1"));
        Assert.Equal(["FP-2/2", "FP-2/1"], await UnitsAsync("kind=check-failed"));
        Assert.Equal(["FP-2/1"], await UnitsAsync("step=TEST"));
        Assert.Equal(["FP-2/1"], await UnitsAsync("step=TEST&defectsOnly=false"));
        Assert.Empty(await UnitsAsync("step=TEST&defectsOnly=true"));
        Assert.Equal(["FP-2/1"], await UnitsAsync("from=2026-03-02T12:10:00Z&to=2026-03-02T12:20:00Z"));
        var finding = (await host.GetAsync<FindingPage>("/api/findings?item=FP-2&serial=2")).Findings.Single();
        Assert.Equal(("check-failed", "SEATED", "BOND", 1, true), (finding.Kind, finding.Rule, finding.Step, finding.Attempt, finding.CountsAsDefect));

        async Task<IEnumerable<string>> UnitsAsync(string query) =>
            (await host.GetAsync<FindingPage>("/api/findings?" + query)).Findings.Select(f => $"{f.Unit!.Item}/{f.Unit.Serial}");
    }

    [Fact]
    public async Task Counts_are_by_kind_with_the_Pareto_of_defects_and_of_reported_codes()
    {
        await using var host = await StartAsync();
        await host.StoreAsync(
            Judged.Unit(
                "1",
                findings:
                [
                    Judged.Finding(FindingKinds.DefectReported, -50, "LEAK", evidence: [("count", "2"), ("count-2", "3"), ("note", "7 drops")]),
                    Judged.Finding(FindingKinds.DefectReported, -40, "SCRATCH", evidence: [("count", "1"), ("note", string.Empty)]),
                    Judged.Finding(FindingKinds.CheckFailed, -30),
                    Judged.Finding(FindingKinds.ClockDoubtful, -20, isDefect: false),
                ]),
            Judged.Unit("2", findings: [Judged.Finding(FindingKinds.DefectReported, -10, "SCRATCH", evidence: ("count", "1")), Judged.Finding(FindingKinds.ClockDoubtful, -5, isDefect: false)]));

        var counts = await host.GetAsync<FindingCounts>("/api/findings/counts?item=FP-2");

        Assert.Equal(6, counts.Total);
        Assert.Equal([new("defect-reported", 3, 3, 2), new("clock-doubtful", 2, 0, 2), new FindingCount("check-failed", 1, 1, 1)], counts.Kinds);
        Assert.Equal([("defect-reported", 3L, 3L), ("check-failed", 1L, 4L)], counts.DefectKinds.Select(d => (d.Code, d.Count, d.CumulativeCount)));
        Assert.Equal([("LEAK", 5L, 5L, 1L), ("SCRATCH", 2L, 7L, 2L)], counts.ReportedDefects.Select(d => (d.Code, d.Count, d.CumulativeCount, d.Units)));
        Assert.Equal((5L, 7L), (counts.ReportedDefects[0].Share.Numerator, counts.ReportedDefects[0].Share.Denominator));
        Assert.Equal(0, (await host.GetAsync<FindingCounts>("/api/findings/counts?from=2026-03-02T11:56:00Z")).Total);
        Assert.Equal(4, (await host.GetAsync<FindingCounts>("/api/findings/counts?defectsOnly=true")).Total);
    }

    [Fact]
    public async Task Every_fault_of_a_query_is_named_at_once()
    {
        await using var host = await StartAsync();

        var problem = await host.GetProblemAsync("/api/findings?serial=1&kind=odd&defectsOnly=yes&limit=0&after=xyz&from=2026-03-02T12:00:00Z&to=2026-03-02T12:00:00Z&page=2&limit=5");

        Assert.Equal(["serial", "kind", "defectsOnly", "to", "limit", "after", "page"], problem.Errors!.Select(e => e.Pointer));
        Assert.Equal("unit-unknown", (await host.GetProblemAsync("/api/findings?item=FP-2&serial=404")).Code);
        Assert.Equal("item-unknown", (await host.GetProblemAsync("/api/findings/counts?item=NO-1")).Code);
    }

    private static async Task<ReadingHost> StartAsync()
    {
        var host = await ReadingHost.StartAsync(Some.Noon);
        await host.DefineAsync(Judged.Item());
        return host;
    }

    private static UnitJudgement UnitWith(int unit) => Judged.Unit(
        unit.ToString(CultureInfo.InvariantCulture),
        findings:
        [
            Judged.Finding(FindingKinds.CheckFailed, 60, "SEATED"),
            Judged.Finding(FindingKinds.ValueOutOfLimits, 60, "TORQUE"),
            Judged.Finding(FindingKinds.LotExpired, unit, "GLUE"),
        ]);

    private static string Key(Contracts.Finding f) => string.Create(CultureInfo.InvariantCulture, $"{f.At:O} {f.Unit!.Serial} {f.Kind}");
}
