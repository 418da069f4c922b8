using System.Text.Json;
using Traceability.Acceptance.Robustness;
using Traceability.Contracts;
using Traceability.Contracts.Definitions;
using Traceability.Contracts.Findings;
using Traceability.Contracts.Tools;
using Traceability.Testing;

namespace Traceability.Acceptance.Tools;

/// <summary>A torque driver was found out: what was done with it, how sure is that, and may it be used?</summary>
public sealed class ToolFoundOutTests : IAsyncLifetime
{
    private readonly LampWorks works = new(41, LampWorks.DaysAgo(6));
    private ServiceHost host = null!;

    /// <inheritdoc />
    public async Task InitializeAsync()
    {
        host = await ServiceHost.StartAsync();
        await Terminal.PostAllAsync(host.Admin, works.Definitions(), batch: 100);
    }

    /// <inheritdoc />
    public async Task DisposeAsync() => await host.DisposeAsync();

    [Fact]
    public async Task A_failed_check_lists_the_work_since_the_last_good_one_and_a_correction_moves_it()
    {
        await ScrewAsync(1, 10);
        await ScrewAsync(2, 110);
        var good = Check(100, "1.21");
        await PostAsync(good, Check(200, "1.35"));
        await ScrewAsync(3, 210);

        var life = await AskAsync<ToolLifeView>("/api/tools/SD-1/life");
        Assert.Equal(("failed", "failed"), (life.Condition, Assert.Single(life.Settings).LastCheck));
        var window = Assert.Single(life.SuspectWindows, w => w.AppliesTo == "setting");
        Assert.Equal(("5", good.Id, null), (window.Setting, window.Since, window.To));
        Assert.Equal(["3 True", "2 True", "1 False"], await UsesAsync(string.Empty));
        Assert.Equal(["3 True", "2 True"], await UsesAsync("suspectOnly=true"));
        Assert.Equal(["2 True"], await UsesAsync($"from={Uri.EscapeDataString(works.Time(50))}&to={Uri.EscapeDataString(works.Time(200))}"));
        Assert.Empty(await UsesAsync("setting=3"));
        await Tables.SettleAsync(host.Database);
        Assert.Equal(["tool-check-failed 3", "tool-found-out 2"], await FindingsAsync());

        // The check that passed was made with another tool.
        await PostAsync(works.Fact("record-voided", 300, TimeSpan.Zero, LampWorks.Desk, "P-9", $$""" "record":"{{good.Id}}","reason":"Wrong tool","authorisedBy":"P-9" """));
        Assert.Equal(["3 True", "2 True", "1 True"], await UsesAsync("suspectOnly=true"));
        await Tables.SettleAsync(host.Database);
        Assert.Equal(["tool-check-failed 3", "tool-found-out 1", "tool-found-out 2"], await FindingsAsync());
        Tables.RequireNone(await FreshJudgement.DifferencesAsync(host.Database));
    }

    [Fact]
    public async Task A_list_of_uses_is_read_in_pages_and_follows_corrections_of_the_work()
    {
        for (var lamp = 1; lamp <= 5; lamp++)
        {
            // Two pairs at one moment: the order goes on by unit.
            await ScrewAsync(lamp, 10 * ((lamp + 1) / 2));
        }

        List<string> read = [];
        string? after = null;
        do
        {
            var page = await AskAsync<ToolUsePage>($"/api/tools/SD-1/uses?limit=2{(after is null ? string.Empty : "&after=" + after)}");
            Assert.True(page.Completeness.IsComplete);
            read.AddRange(page.Uses.Select(u => u.Serial));
            after = page.After;
        }
        while (after is not null);

        Assert.Equal(["5", "4", "3", "2", "1"], read);
        var first = (await AskAsync<ToolUsePage>("/api/tools/SD-1/uses?limit=1")).Uses[0];
        Assert.Equal(("LAMP", "SCREW", 1, "5", "DRIVER", "ST-1", "in-process"), (first.Item, first.Step, first.Attempt, first.Setting, first.Requirement, first.Station, first.Place));
        await PostAsync(works.Fact("record-voided", 300, TimeSpan.Zero, LampWorks.Desk, "P-9", $$""" "record":"{{first.Record}}","reason":"Wrong lamp","authorisedBy":"P-9" """));
        Assert.DoesNotContain("5 False", await UsesAsync(string.Empty));
    }

    [Fact]
    public async Task A_tool_is_taken_out_of_use_and_put_back_only_in_order()
    {
        await PostAsync(works.Define("tool-withdrawn", 10, """ "tool":"SD-1","reason":"Dropped" """));
        Assert.Equal("Dropped", (await AskAsync<ToolLifeView>("/api/tools/SD-1/life")).WithdrawnBecause);
        await RefusedAsync("tool-already-withdrawn", works.Define("tool-withdrawn", 20, """ "tool":"SD-1","reason":"Dropped" """));
        await PostAsync(works.Define("tool-calibrated", 30, """ "tool":"SD-1","foundGood":false,"leftGood":false """));
        await RefusedAsync("tool-not-in-order", works.Define("tool-reinstated", 40, """ "tool":"SD-1","reason":"Fine" """));
        var ready = works.Define("tool-calibrated", 50, $$$""" "tool":"SD-1","foundGood":false,"leftGood":true,"validUntil":"{{{works.Time(100_000)}}}","points":[{"setting":"5","nominal":{"value":1.2,"unit":"N.m"},"asFound":{"value":1.35,"unit":"N.m"},"asLeft":{"value":1.21,"unit":"N.m"},"uncertainty":{"value":2,"unit":"cN.m"}}] """);
        await PostAsync(ready, works.Define("tool-reinstated", 60, """ "tool":"SD-1","reason":"Repaired" """));
        await RefusedAsync("tool-not-withdrawn", works.Define("tool-reinstated", 70, """ "tool":"SD-1","reason":"Repaired" """));

        var life = await AskAsync<ToolLifeView>("/api/tools/SD-1/life");
        Assert.Equal(("valid", ready.Id, null), (life.Condition, life.Calibration, life.WithdrawnAt));
        var point = Assert.Single((await AskAsync<ToolView>("/api/tools/SD-1")).Calibrations[^1].Points);
        Assert.Equal(("5", 1.35m, 1.21m, 2m), (point.Setting, point.AsFound!.Value, point.AsLeft!.Value, point.Uncertainty!.Value));
    }

    [Fact]
    public async Task A_validity_by_interval_runs_out_and_a_torque_too_near_its_limit_is_told()
    {
        await PostAsync(
            works.Define("tool-defined", 5, """ "tool":"SD-1","toolClass":"SCREWDRIVER","description":"Driver","needsCalibration":true,"calibrationInterval":"PT1H" """),
            works.Define("tool-calibrated", 6, """ "tool":"SD-1","foundGood":true,"leftGood":true """),
            works.Define("tool-setting-verified", 7, """ "tool":"SD-1","setting":"5","torque":{"value":1.29,"unit":"N.m"},"uncertainty":{"value":2,"unit":"cN.m"} """));
        await ScrewAsync(1, 20);
        await ScrewAsync(2, 90);

        Assert.Equal(["tool-not-calibrated 2", "tool-torque-in-guard-band 1", "tool-torque-in-guard-band 2"], await FindingsAsync());
        var life = await AskAsync<ToolLifeView>("/api/tools/SD-1/life");
        Assert.Equal(("due", 1.29m, 2m), (life.Condition, life.Settings[0].Torque!.Value, life.Settings[0].Uncertainty!.Value));
    }

    [Fact]
    public async Task A_study_and_the_checks_are_answered_as_figures()
    {
        await PostAsync(
            works.Define("tool-studied", 5, """ "tool":"SD-1","setting":"5","joint":"HARD","readings":[{"value":1.2,"unit":"N.m"},{"value":1.3,"unit":"N.m"}] """),
            works.Define("tool-studied", 6, """ "tool":"SD-1","setting":"5","joint":"SOFT","readings":[{"value":110,"unit":"cN.m"},{"value":120,"unit":"cN.m"}] """),
            Check(10, "1.20"),
            Check(11, "1.22"),
            Check(12, "1.21"));

        var study = Assert.Single((await AskAsync<ToolCapabilityView>("/api/tools/SD-1/capability")).Settings);
        Assert.Equal(("N.m", false), (study.Unit, study.IsFull));
        Assert.Equal([1.25, 1.15], study.Joints.Select(j => Math.Round(j.Mean, 9)));
        Assert.Equal(0.1, study.MeanShift, 1e-9);

        // By hand: s = 0.1/√2 on both joints, so the combined scatter is the shift and 6 s.
        Assert.Equal(0.1 + (6 * 0.1 / Math.Sqrt(2)), study.CombinedScatter, 1e-9);
        var drift = await AskAsync<ToolDriftView>("/api/tools/SD-1/drift?setting=5");
        Assert.Equal((3, 3, 1.21), (drift.BaselineCount, drift.Points.Count, Math.Round(drift.Centre!.Value, 9)));
        Assert.All(drift.Points, p => Assert.Equal(("passed", false, false), (p.Verdict, p.IsOut, p.IsDrifting)));
        Assert.Empty((await AskAsync<ToolDriftView>("/api/tools/SD-1/drift")).Points);
    }

    private Sent Check(double at, string reading) => works.Fact(
        "tool-checked", at, $$""" "tool":"SD-1","setting":"5","readings":[{"value":{{reading}},"unit":"N.m"}],"lower":{"value":1.1,"unit":"N.m"},"upper":{"value":1.3,"unit":"N.m"} """);

    private Task ScrewAsync(int lamp, double at) => PostAsync(
        works.Fact("unit-opened", at - 2, LampWorks.Unit("LAMP", lamp) + ""","variant":"P" """),
        works.Fact("step-completed", at, LampWorks.Unit("LAMP", lamp) + ""","step":"SCREW","tools":[{"tool":"SD-1","setting":"5"}]"""));

    private async Task PostAsync(params Sent[] facts)
    {
        foreach (var fact in facts)
        {
            var reply = await Terminal.PostAsync(host.Admin, fact);
            Assert.True(reply.Status == 201, $"{fact.Json}: {reply.Body}");
        }
    }

    private async Task RefusedAsync(string code, Sent fact)
    {
        var reply = await Terminal.PostAsync(host.Admin, fact);
        Assert.Equal((409, code), (reply.Status, reply.Code));
    }

    private async Task<string[]> UsesAsync(string query) =>
        [.. (await AskAsync<ToolUsePage>("/api/tools/SD-1/uses?" + query)).Uses.Select(u => $"{u.Serial} {u.IsSuspect}")];

    private async Task<string[]> FindingsAsync() =>
        [.. (await AskAsync<FindingPage>("/api/findings?item=LAMP")).Findings.Where(f => f.Kind.StartsWith("tool-", StringComparison.Ordinal)).Select(f => $"{f.Kind} {f.Unit!.Serial}").Order(StringComparer.Ordinal)];

    private async Task<T> AskAsync<T>(string path)
    {
        using var answer = await host.Admin.GetAsync(new Uri(path, UriKind.Relative));
        var text = await answer.Content.ReadAsStringAsync();
        Assert.True(answer.IsSuccessStatusCode, text);
        return JsonSerializer.Deserialize<T>(text, WireJson.Options)!;
    }
}
