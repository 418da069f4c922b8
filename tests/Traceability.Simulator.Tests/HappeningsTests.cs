using System.Globalization;
using System.Text.Json;
using Traceability.Simulator.Plant;
using Traceability.Simulator.Truth;
using Xunit;

namespace Traceability.Simulator.Tests;

/// <summary>What the demo shows is in it, and the independent recomputation says of it what the plant knows.</summary>
public sealed class HappeningsTests
{
    private static PlantRun Plant => Demo.Full.Value;

    private static PlantAnswers Answers => Demo.FullAnswers.Value;

    private static PlantTruth Truth => Demo.Full.Value.Truth;

    [Fact]
    public void Every_disposition_is_made_and_carried_out()
    {
        var ended = Answers.Nonconformances().Where(n => n.Nonconformance.State == "closed").Select(n => n.Nonconformance.Disposition).OfType<string>();
        Assert.Equal(["repair", "return-to-supplier", "rework", "scrap", "use-as-is"], ended.Distinct(StringComparer.Ordinal).Order(StringComparer.Ordinal));
    }

    [Fact]
    public void Nonconformances_are_open_settled_under_decision_and_closed() =>
        Assert.Superset(
            new HashSet<string>(["open", "settled", "under-decision", "closed"], StringComparer.Ordinal),
            Answers.Nonconformances().Select(n => n.Nonconformance.State).ToHashSet(StringComparer.Ordinal));

    [Fact]
    public void What_a_person_reported_names_a_file_that_is_there_to_be_stored()
    {
        var named = Plant.Facts.Where(f => f.Type == "nonconformance-reported").SelectMany(f => Member(f, "attachments").EnumerateArray().Select(a => a.GetString()!)).ToList();
        Assert.NotEmpty(named);
        Assert.Equal(Plant.Files.Select(f => f.Hash).Order(StringComparer.Ordinal), named.Order(StringComparer.Ordinal));
        Assert.All(Plant.Files, f => Assert.Equal(
            f.Hash, Convert.ToHexStringLower(System.Security.Cryptography.SHA256.HashData(System.Text.Encoding.UTF8.GetBytes(f.Content)))));
    }

    [Fact]
    public void Shipments_go_to_several_consignees_under_an_order_and_a_serviced_pump_goes_out_twice()
    {
        var shipped = Plant.Facts.Where(f => f.Type == "unit-shipped" && f.Unit!.StartsWith("FP-2/", StringComparison.Ordinal)).ToList();
        Assert.True(shipped.Select(f => Member(f, "consignee").GetString()).Distinct().Count() >= 2);
        Assert.All(shipped, f => Assert.NotEmpty(Member(f, "orderReference").GetString()!));
        var twice = Assert.Single(shipped.GroupBy(f => f.Unit, StringComparer.Ordinal), g => g.Count() == 2);
        var batteries = Answers.Units[twice.Key!].Contents.Where(c => c.Position == "BATTERY").ToList();
        Assert.Equal(2, batteries.Count);
        Assert.Single(batteries, b => b.To is null);
        Assert.Equal("shipped", Answers.Units[twice.Key!].Place);
    }

    [Fact]
    public void On_the_cold_night_what_cures_is_ready_later_than_on_any_other_day()
    {
        var trouble = Truth.Troubles.Single(t => t.Kind == TroubleKind.LoadedTooEarlyByDose);
        var bonded = Answers.Units[trouble.Unit].Steps.Last(s => s.Step == "SENSOR-BOND").CompletedAt;
        var loaded = Plant.Facts.Last(f => f.Unit == trouble.Unit && f.Type == "step-started" && Member(f, "step").GetString() == "CASE-TEST").HappenedAt;

        // The readings of the shift are sent with the next report: look once they are there, but before it is loaded by record.
        var known = Plant.Facts.Where(f => f.HappenedAt <= bonded || (f.Type == "temperature-recorded" && f.HappenedAt <= bonded.AddHours(5))).ToList();
        var open = Assert.Single(Recomputation.Of(known, bonded).Units[trouble.Unit].Open, o => o.Rule == "ADH-SET");

        Assert.True(loaded - bonded >= TimeSpan.FromMinutes(10), "By the fixed time it would have been ready.");
        Assert.True(open.ReadyAt > loaded, $"Ready at {open.ReadyAt:O}, loaded at {loaded:O}.");
        Assert.Contains(Answers.Units[trouble.Unit].Findings, f => f is { Kind: "interval-too-short", Rule: "ADH-SET" });
        var cured = new JudgedInMemory(Plant with { Facts = known }).Units[trouble.Unit].OpenIntervals.Single(o => o.Rule.Value == "ADH-SET");
        Assert.Equal(open.ReadyAt, cured.ReadyAt);
    }

    [Fact]
    public void A_corrected_depth_moves_the_limits_of_the_shim()
    {
        var unit = Truth.Troubles.Single(t => t.Kind == TroubleKind.InputCorrected).Unit;
        var uncorrected = Plant.Facts.Where(f => f.Unit != unit || f.Type != "record-corrected").ToList();
        Assert.Contains(Recomputation.Of(uncorrected, Plant.Now).Units[unit].Findings, f => f is { Kind: "value-out-of-limits", Step: "SHIM" });
        Assert.DoesNotContain(Answers.Units[unit].Findings, f => f.Step == "SHIM");
    }

    [Fact]
    public void A_head_is_moved_to_the_next_revision_while_it_is_built_and_what_carries_over_counts()
    {
        var unit = Answers.Units[Truth.Troubles.Single(t => t.Kind == TroubleKind.MovedInProcess).Unit];
        Assert.Equal(["A", "A", "A", "B"], unit.Steps.Select(s => s.Revision));
        Assert.Equal("B", unit.Revision);
        Assert.DoesNotContain(unit.Findings, f => f.Kind is "prerequisite-not-passed" or "characteristic-not-required" or "characteristic-not-recorded");
        Assert.Contains(Answers.Units.Values, u => u.Unit.StartsWith("HD-2/", StringComparison.Ordinal) && u.Steps.Count > 0 && u.Steps.All(s => s.Revision == "B"));
    }

    [Fact]
    public void A_learner_under_another_ones_eyes_and_a_person_trained_anew_are_qualified()
    {
        var work = Plant.Facts.Where(f => f.Type == "step-completed" && f.Parse().RootElement is var body && body.TryGetProperty("supervisor", out _)).ToList();
        Assert.Equal(2, work.Count);
        Assert.All(work, f => Assert.DoesNotContain(Answers.Units[f.Unit!].Findings, x => x.Kind is "person-not-qualified" or "supervisor-not-qualified"));
        var lapsed = Answers.Units.Values.SelectMany(u => u.Steps.Where(s => s.Person == MasterData.Lapsed).Select(s => (u, s))).OrderBy(x => x.s.CompletedAt).ToList();
        Assert.Equal([true, false], lapsed.Select(x => x.u.Findings.Any(f => f.Kind == "person-not-qualified" && f.Step == x.s.Step)));
    }

    [Fact]
    public void Suspect_uses_of_the_bad_tool_are_those_that_the_plant_knows_of()
    {
        var really = Truth.ToolUses.Where(u => u.Tool == Truth.BadTool && u.IsRecorded && u.CompletedAt < Truth.BadToolFoundAt).Select(u => $"{u.Unit} {u.CompletedAt:O}").ToList();
        Assert.True(really.Count > 50);
        Assert.Equal(
            really.Order(StringComparer.Ordinal),
            Answers.UsesOf(Truth.BadTool).Where(u => u.Use.IsSuspect).Select(u => $"{u.Unit} {u.Use.At:O}").Order(StringComparer.Ordinal));
    }

    [Fact]
    public void The_scope_of_the_bad_container_is_what_the_plant_knows_of_and_what_nobody_scanned()
    {
        var really = Truth.UnitsWith(Truth.BadContainerItem, Truth.BadContainerLot, Truth.BadContainer);
        var scope = Answers.Scope(Truth.BadContainerItem, Truth.BadContainerLot, Truth.BadContainer);
        Assert.Contains(scope, m => m.Unit.StartsWith("FP-2/", StringComparison.Ordinal) && m.Verdict == ScopeVerdict.Proven);
        Assert.Empty(really.Except(scope.Select(m => m.Unit), StringComparer.Ordinal));
        Assert.Empty(scope.Where(m => m.Verdict == ScopeVerdict.Proven).Select(m => m.Unit).Except(really, StringComparer.Ordinal));
    }

    [Fact]
    public void The_count_of_the_shims_leaves_three_unexplained()
    {
        var balance = Answers.Balance("SH-3", "S2401")!;
        Assert.Equal((55m, 50m, 2m, 3m, 3m), (balance.Received, balance.UsedMost, balance.OnHand, balance.UnexplainedLeast, balance.UnexplainedMost));
    }

    [Fact]
    public void A_lot_that_was_split_reaches_what_the_part_was_used_on_and_one_that_was_merged_perhaps()
    {
        var part = Answers.Scope("OR-5", "O2408S").Where(m => m.Verdict == ScopeVerdict.Proven).Select(m => m.Unit).ToList();
        var whole = Answers.Scope("OR-5", "O2408").Where(m => m.Verdict == ScopeVerdict.Proven).Select(m => m.Unit).ToList();
        Assert.NotEmpty(part);
        Assert.Subset(whole.ToHashSet(StringComparer.Ordinal), part.ToHashSet(StringComparer.Ordinal));
        var rests = Truth.Uses.Where(u => u is { Item: "SH-3", Lot: "SREST1" }).Select(u => u.Unit).ToList();
        Assert.Equal(3, rests.Count);
        Assert.All(rests, unit => Assert.Contains(Answers.Scope("SH-3", "S2408"), m => m.Unit == unit && m.Verdict == ScopeVerdict.Possible));
    }

    [Fact]
    public void One_lot_of_the_supplier_came_in_as_two()
    {
        var lots = Plant.Facts.Where(f => f.Type == "lot-received" && Member(f, "supplierLot").GetString() == "S77001").ToList();
        Assert.Equal(2, lots.Count);
    }

    [Fact]
    public void Work_with_a_lot_whose_shelf_life_was_extended_goes_on_without_a_finding()
    {
        var expired = Plant.Facts.First(f => f.Type == "lot-recertified");
        var lot = Member(expired, "lot").GetProperty("lot").GetString();
        var received = Plant.Facts.First(f => f.Type == "lot-received" && Member(f, "lot").GetProperty("lot").GetString() == lot);
        var end = DateTimeOffset.Parse(Member(received, "expiresAt").GetString()!, CultureInfo.InvariantCulture);
        var after = Answers.Units.Values.SelectMany(u => u.Usages.Where(x => x.Lot == lot && x.From > end).Select(x => (u, x))).ToList();
        Assert.NotEmpty(after);
        Assert.All(after, a => Assert.DoesNotContain(a.u.Findings, f => f.Kind == "lot-expired" && f.Step == a.x.Step && f.Record == a.x.Record));
    }

    [Fact]
    public void A_mix_reaches_what_its_parts_reach_and_where_nobody_scanned_it_perhaps()
    {
        var pot = Truth.Uses.First(u => u.Item == MixBench.Item && u.Unit == Truth.Troubles.First(t => t.Kind == TroubleKind.MixRatioOff).Unit);
        var resin = Truth.Uses.First(u => u.Item == MixBench.Resin && u.Unit == pot.Unit);
        var proven = Proven(resin.Item, resin.Lot).ToHashSet(StringComparer.Ordinal);
        Assert.Superset(Proven(pot.Item, pot.Lot).ToHashSet(StringComparer.Ordinal), proven);
        Assert.Superset(Proven(resin.Item, resin.Lot, resin.Container).ToHashSet(StringComparer.Ordinal), proven);
        var unscanned = Truth.Troubles.Single(t => t.Kind == TroubleKind.MixNotScanned).Unit;
        var part = Truth.Uses.Single(u => u.Item == MixBench.Hardener && u.Unit == unscanned);
        Assert.Contains(Answers.Scope(part.Item, part.Lot, part.Container), m => m.Unit == unscanned && m.Verdict == ScopeVerdict.Possible);

        static IEnumerable<string> Proven(string item, string lot, string? container = null) =>
            Answers.Scope(item, lot, container).Where(m => m.Verdict == ScopeVerdict.Proven).Select(m => m.Unit);
    }

    [Fact]
    public void Drives_out_of_one_load_share_its_record_and_each_keeps_its_own_times()
    {
        var slow = Truth.Troubles.Single(t => t.Kind == TroubleKind.TransferTooSlow);
        var load = Plant.Facts.Where(f => f.Type == "unit-opened" && Member(f, "batch") is { ValueKind: JsonValueKind.String } b && b.GetString() == slow.Detail).Select(f => f.Unit!).ToList();
        Assert.Equal(2, load.Count);
        var soaks = load.Select(u => Answers.Units[u].Steps.Single(s => s.Step == "OVEN")).ToList();
        Assert.Single(soaks.Select(s => s.Record).Distinct());
        Assert.Equal([slow.Unit], load.Where(u => Answers.Units[u].Findings.Any(f => f is { Kind: "interval-too-long", Rule: "TRANSFER" })));
        Assert.All(load, u => Assert.Contains(Answers.Units[u].ToolUses, t => t is { Tool: "OV-1", Step: "OVEN" }));
    }

    [Fact]
    public void A_loss_that_was_booked_with_the_count_leaves_nothing_unexplained()
    {
        var balance = Answers.Balance("SK-1", "K2401")!;
        Assert.True(balance.Corrected < 0);
        Assert.Equal((0m, 0m), (balance.UnexplainedLeast, balance.UnexplainedMost));
    }

    [Fact]
    public void Pumps_wait_for_a_signature() => Assert.Equal(3, Truth.Unsigned.Count);

    private static JsonElement Member(PlantFact fact, string name)
    {
        using var body = fact.Parse();
        return body.RootElement.TryGetProperty(name, out var value) ? value.Clone() : default;
    }
}
