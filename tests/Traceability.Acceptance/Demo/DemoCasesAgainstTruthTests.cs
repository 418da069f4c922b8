using System.Globalization;
using System.Text.Json;
using Traceability.Contracts.Findings;
using Traceability.Contracts.Lots;
using Traceability.Contracts.Nonconformances;
using Traceability.Contracts.Scope;
using Traceability.Contracts.SharedFactors;
using Traceability.Contracts.Tools;
using Traceability.Contracts.Units;
using Traceability.Simulator.Plant;
using Traceability.Simulator.Truth;

namespace Traceability.Acceptance.Demo;

/// <summary>Nonconformances, tools, balances of lots, structure, and the known causes.</summary>
public sealed partial class DemoAgainstTruthTests
{
    [Fact]
    public async Task Nonconformances_and_how_far_they_have_come_are_those_of_the_independent_computation()
    {
        var expected = _demo.Answers.Nonconformances();
        Assert.Contains(expected, n => n.Nonconformance.IsOpen);
        var all = await NonconformancesAsync("limit=1000");
        var open = await NonconformancesAsync("limit=1000&openOnly=true");
        Assert.Equal(
            expected.Select(n => Text(n.Unit, n.Nonconformance)).Order(StringComparer.Ordinal),
            all.Select(Text).Order(StringComparer.Ordinal));
        Assert.Equal(
            expected.Where(n => n.Nonconformance.IsOpen).Select(n => Text(n.Unit, n.Nonconformance)).Order(StringComparer.Ordinal),
            open.Select(Text).Order(StringComparer.Ordinal));
    }

    [Fact]
    public async Task Uses_of_every_tool_and_which_of_them_are_suspect_are_those_of_the_independent_computation()
    {
        foreach (var tool in new[] { "SD-03", "SD-04", "SD-05", "SD-06", "DG-1", "OV-1", "LT-1" })
        {
            var expected = _demo.Answers.UsesOf(tool);
            Assert.NotEmpty(expected);
            Assert.Equal(
                expected.Select(u => $"{u.Unit} {u.Use.Step} {u.Use.Attempt} {u.Use.Record} {u.Use.Setting} {u.Use.IsSuspect}").Order(StringComparer.Ordinal),
                (await UsesAsync(tool, false)).Select(u => $"{u.Item}/{u.Serial} {u.Step} {u.Attempt} {u.Record} {u.Setting} {u.IsSuspect}").Order(StringComparer.Ordinal));
            Assert.Equal(
                expected.Where(u => u.Use.IsSuspect).Select(u => u.Use.Record.ToString()).Order(StringComparer.Ordinal),
                (await UsesAsync(tool, true)).Select(u => u.Record.ToString()).Order(StringComparer.Ordinal));
        }
    }

    [Fact]
    public async Task What_was_done_with_the_bad_tool_between_two_calibrations_is_what_the_plant_knows_of()
    {
        var truth = _demo.Plant.Truth;
        var really = truth.ToolUses.Where(u => u.Tool == truth.BadTool && u.IsRecorded && u.CompletedAt < truth.BadToolFoundAt).Select(u => $"{u.Unit} {u.Step} {Time(u.CompletedAt)}").ToArray();
        Assert.NotEmpty(really);
        Assert.Equal(
            really.Order(StringComparer.Ordinal),
            (await UsesAsync(truth.BadTool, true)).Select(u => $"{u.Item}/{u.Serial} {u.Step} {Time(u.At)}").Order(StringComparer.Ordinal));
        var life = await _demo.AskAsync<ToolLifeView>($"/api/tools/{truth.BadTool}/life");
        Assert.All(life.SuspectWindows, w => Assert.Equal(Time(truth.BadToolFoundAt), Time(w.FoundAt)));
    }

    [Fact]
    public async Task The_scope_of_the_bad_tool_is_what_the_plant_knows_of()
    {
        var truth = _demo.Plant.Truth;
        var answer = await _demo.AskAsync<ScopeQuestionAnswer>("/api/scopes?limit=1000", new { suspect = new { kind = "tool", tool = truth.BadTool } });
        Assert.Null(answer.After);
        var members = answer.Members.ToDictionary(m => $"{m.Item}/{m.Serial}", m => m.Verdict, StringComparer.Ordinal);

        // Told by records: proven, and nothing else is.
        var recorded = _demo.Answers.UsesOf(truth.BadTool).Where(u => u.Use.IsSuspect).Select(u => (u.Unit, u.Use.At));
        var contents = _demo.Answers.Units.Values.SelectMany(u => u.Contents.Select(c => (Parent: u.Unit, c.Component, c.From, c.To)));
        Assert.Equal(
            Carried(recorded, contents).Order(StringComparer.Ordinal),
            members.Where(m => m.Value == "proven").Select(m => m.Key).Order(StringComparer.Ordinal));

        // What really was worked on with it, recorded or not, is never outside.
        var really = truth.ToolUses.Where(u => u.Tool == truth.BadTool && u.CompletedAt < truth.BadToolFoundAt).Select(u => (u.Unit, u.CompletedAt));
        Assert.Empty(Carried(really, truth.Contents.Select(c => (c.Parent, c.Component, c.From, c.To))).Except(members.Keys, StringComparer.Ordinal));
    }

    // Up through genealogy, by time.
    private static IEnumerable<string> Carried(
        IEnumerable<(string Unit, DateTimeOffset At)> uses, IEnumerable<(string Parent, string Component, DateTimeOffset From, DateTimeOffset? To)> contents)
    {
        var inside = contents.ToLookup(c => c.Component, StringComparer.Ordinal);
        var since = new Dictionary<string, DateTimeOffset>(StringComparer.Ordinal);
        var next = new Queue<(string Unit, DateTimeOffset At)>(uses);
        while (next.TryDequeue(out var reached))
        {
            if (since.TryGetValue(reached.Unit, out var known) && known <= reached.At)
            {
                continue;
            }

            since[reached.Unit] = reached.At;
            foreach (var (parent, _, from, _) in inside[reached.Unit].Where(c => reached.At < (c.To ?? DateTimeOffset.MaxValue)))
            {
                next.Enqueue((parent, from > reached.At ? from : reached.At));
            }
        }

        return since.Keys;
    }

    [Fact]
    public async Task Whether_a_unit_may_be_released_and_what_it_lacks_is_that_of_the_independent_computation()
    {
        // Those that are not released yet, and each tenth of the others.
        var asked = _demo.Answers.Units.Values.Where((u, i) => i % 10 == 0 || u.Place is "in-process" or "on-hold" or "returned").Select(u => u.Unit).ToArray();
        foreach (var unit in asked)
        {
            var state = await _demo.AskAsync<ReleaseState>($"/api/units/{unit}/release");
            var expected = _demo.Answers.LackingForRelease(unit, state.AsOf);
            Assert.Equal(expected.Order(StringComparer.Ordinal), state.Blockers.Select(b => $"{b.Unit.Item}/{b.Unit.Serial} {b.Code} {b.Step} {b.Rule}").Order(StringComparer.Ordinal));
            Assert.Equal(expected.Count == 0, state.MayBeReleased);
        }
    }

    [Fact]
    public async Task Findings_by_kind_are_counted_as_the_independent_computation_counts_them()
    {
        var (from, to) = (_demo.Plant.Now.UtcDateTime.AddDays(-200), _demo.Plant.Now.UtcDateTime.AddDays(2));
        var found = await _demo.AskAsync<FindingCounts>($"/api/findings/counts?from={from:yyyy-MM-ddTHH:mm:ssZ}&to={to:yyyy-MM-ddTHH:mm:ssZ}");
        Assert.Equal(
            _demo.Answers.Units.Values.SelectMany(u => u.Findings.Select(f => (u.Unit, f))).GroupBy(x => x.f.Kind, StringComparer.Ordinal)
                .Select(g => $"{g.Key} {g.Count()} {g.Count(x => x.f.IsDefect)} {g.Select(x => x.Unit).Distinct(StringComparer.Ordinal).Count()}").Order(StringComparer.Ordinal),
            found.Kinds.Select(k => $"{k.Kind} {k.Findings} {k.Defects} {k.Units}").Order(StringComparer.Ordinal));
    }

    [Fact]
    public async Task The_scope_of_a_supplier_lot_is_the_union_of_those_of_its_lots()
    {
        var answer = await _demo.AskAsync<SupplierLotScope>("/api/supplier-lots/scope?supplierLot=S77001&limit=1000");
        var expected = new[] { "T2401", "T2408" }.SelectMany(l => _demo.Answers.Scope("TAPE-2", l)).GroupBy(m => m.Unit, StringComparer.Ordinal)
            .Select(g => $"{g.Key} {Word(g.Max(m => m.Verdict))}");
        Assert.Equal(
            expected.Order(StringComparer.Ordinal),
            answer.Members.Select(m => $"{m.Member.Item}/{m.Member.Serial} {m.Member.Verdict}").Order(StringComparer.Ordinal));
    }

    [Fact]
    public async Task What_is_unexplained_of_every_lot_that_was_counted_or_emptied_is_that_of_the_independent_computation()
    {
        var compared = 0;
        foreach (var (item, lot) in _demo.Answers.Lots)
        {
            var view = await _demo.AskAsync<LotBalanceView>($"/api/lots/{item}/{lot}/balance");
            if (_demo.Answers.Balance(item, lot) is not { } expected)
            {
                Assert.Null(view.AsOf);
                continue;
            }

            compared++;
            Assert.Equal(
                (item, lot, Time(expected.AsOf), expected.Received ?? 0m, expected.MergedIn, expected.Corrected, expected.SplitOff, expected.Discarded),
                (item, lot, Time(view.AsOf), view.Received ?? 0m, view.MergedIn, view.Corrected, view.SplitOff, view.Discarded));
            Assert.Equal(
                (item, lot, expected.UsedLeast, expected.UsedMost, expected.OnHand, expected.UnexplainedLeast, expected.UnexplainedMost),
                (item, lot, view.UsedLeast, view.UsedMost, view.OnHand, view.UnexplainedLeast, view.UnexplainedMost));
        }

        Assert.True(compared > 30, $"{compared} lots were compared.");
    }

    [Fact]
    public async Task A_lot_of_the_supplier_gives_both_lots_that_it_came_in_as()
    {
        var found = await _demo.AskAsync<JsonElement>("/api/supplier-lots?supplierLot=S77001");
        Assert.Equal(["T2401", "T2408"], found.EnumerateArray().Select(l => l.GetProperty("lot").GetString()!).Order(StringComparer.Ordinal));
    }

    [Fact]
    public async Task A_serviced_pump_has_another_battery_than_the_one_it_was_built_with()
    {
        var serviced = _demo.Answers.Units.Values.Single(u => u.Contents.Count(c => c.Position == "BATTERY") == 2);
        var asBuilt = await _demo.AskAsync<StructureView>($"/api/units/{serviced.Unit}/structure?asBuilt=true");
        var now = await _demo.AskAsync<StructureView>($"/api/units/{serviced.Unit}/structure");
        string Battery(StructureView view) => view.Unit.Components.Single(c => c.Position == "BATTERY").Unit.Serial;
        var batteries = serviced.Contents.Where(c => c.Position == "BATTERY").OrderBy(c => c.From).Select(c => c.Component.Split('/')[1]).ToArray();
        Assert.Equal((batteries[0], batteries[1]), (Battery(asBuilt), Battery(now)));
    }

    [Fact]
    public async Task What_dripping_pumps_share_more_than_chance_allows_is_the_tool_that_gives_less_than_it_shows()
    {
        var truth = _demo.Plant.Truth;
        var found = await SearchAsync(new { item = "FP-2", step = "RUN", rule = "DRIP" });
        Assert.Equal(truth.Troubles.Count(t => t.Kind == TroubleKind.DripsForBadTool), found.Failed);
        AssertFirst(found, "tool", truth.BadTool);
    }

    [Fact]
    public async Task What_loose_drives_share_more_than_chance_allows_is_the_container_whose_content_does_not_hold()
    {
        var truth = _demo.Plant.Truth;
        var found = await SearchAsync(new { item = "DR-2", step = "SPIN", rule = "LOOSE" });
        Assert.Equal(truth.Troubles.Count(t => t.Kind == TroubleKind.LooseForBadContainer), found.Failed);
        AssertFirst(found, "container", $"{truth.BadContainerItem}/{truth.BadContainerLot}/{truth.BadContainer}");
    }

    [Fact]
    public async Task What_leaking_pumps_share_more_than_chance_allows_is_the_lot_that_makes_them_leak()
    {
        var truth = _demo.Plant.Truth;
        var leaked = truth.Troubles.Where(t => t.Kind == TroubleKind.LeakedForBadLot).Select(t => t.Unit).ToHashSet(StringComparer.Ordinal);

        var found = await SearchAsync(new { item = "FP-2", step = "LEAK" });

        Assert.True(found.Failed >= leaked.Count && leaked.Count > 0, $"{found.Failed} failed, {leaked.Count} leaked.");
        var first = found.Groups[0];
        Assert.True(first.IsSignificant, $"p {first.P}, adjusted {first.Adjusted} of {found.Tried}");
        Assert.Contains(first.Factors, f => f is { Kind: "lot" } && f.Name == $"{truth.BadItem}/{truth.BadLot}");
        Assert.True(first.FailedWith * first.ComparedKnown > first.ComparedWith * first.FailedKnown);
        Assert.True(first.Lower > 1, $"from {first.Lower}");
    }

    [Fact]
    public async Task Pumps_that_have_nothing_in_common_share_nothing_more_than_chance_allows()
    {
        // Every seventh that has left, whatever became of it: no cause.
        var ended = _demo.Answers.Units.Where(u => u.Key.StartsWith("FP-2/", StringComparison.Ordinal) && (u.Value.Place is "shipped" or "in-stock"))
            .Select(u => u.Key).Order(StringComparer.Ordinal).ToArray();
        var units = ended.Where((_, i) => i % 7 == 3).Select(u => new { item = u.Split('/')[0], serial = u.Split('/')[1] }).ToArray();

        var found = await _demo.AskAsync<SharedFactorFound>("/api/shared-factors", new { units });

        Assert.Equal(units.Length, found.Failed);
        Assert.True(found.Compared > units.Length && found.Tried > 20, $"{found.Compared} compared, {found.Tried} tried.");
        Assert.DoesNotContain(found.Groups, g => g.IsSignificant);
    }

    private static void AssertFirst(SharedFactorFound found, string kind, string name)
    {
        var first = found.Groups[0];
        Assert.True(first.IsSignificant, $"p {first.P}, adjusted {first.Adjusted} of {found.Tried}");
        Assert.True(
            first.Factors.Any(f => f.Kind == kind && f.Name == name),
            string.Join('\n', found.Groups.Take(5).Select(g => $"{g.P:G3} {g.FailedWith}/{g.FailedKnown} {g.ComparedWith}/{g.ComparedKnown}: {string.Join(", ", g.Factors.Select(f => $"{f.Kind} {f.Name}"))}")));
        Assert.True(first.Lower > 1, $"from {first.Lower}");
    }

    private static string Text(string unit, NonconformanceAnswer n) =>
        string.Create(CultureInfo.InvariantCulture, $"{unit} {n.Id} {n.State} {n.Kind} {n.Rule} {n.Step} {n.Disposition} {n.Concession} {n.IsOpen}");

    private static string Text(Nonconformance n) => string.Create(
        CultureInfo.InvariantCulture,
        $"{n.Unit.Item}/{n.Unit.Serial} {n.Id} {Kebab(n.State)} {n.Kind} {n.Rule} {n.Step} {(n.Disposition is { } d ? Kebab(d) : null)} {n.Concession} {n.IsOpen}");

    private static string Kebab<T>(T value)
        where T : struct, Enum => JsonNamingPolicy.KebabCaseLower.ConvertName(value.ToString());

    private Task<SharedFactorFound> SearchAsync(object failure) => _demo.AskAsync<SharedFactorFound>("/api/shared-factors", new { failure });

    private async Task<List<Nonconformance>> NonconformancesAsync(string query)
    {
        var found = new List<Nonconformance>();
        string? after = null;
        do
        {
            var page = await _demo.AskAsync<NonconformancePage>($"/api/nonconformances?{query}{(after is null ? string.Empty : $"&after={Uri.EscapeDataString(after)}")}");
            found.AddRange(page.Nonconformances);
            after = page.After;
        }
        while (after is not null);
        return found;
    }

    private async Task<List<ToolUseView>> UsesAsync(string tool, bool suspectOnly)
    {
        var found = new List<ToolUseView>();
        string? after = null;
        do
        {
            var page = await _demo.AskAsync<ToolUsePage>(
                $"/api/tools/{tool}/uses?limit=1000{(suspectOnly ? "&suspectOnly=true" : string.Empty)}{(after is null ? string.Empty : $"&after={Uri.EscapeDataString(after)}")}");
            found.AddRange(page.Uses);
            after = page.After;
        }
        while (after is not null);
        return found;
    }
}
