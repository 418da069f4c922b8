using Traceability.Simulator.Plant;
using Traceability.Simulator.Truth;
using Xunit;

namespace Traceability.Simulator.Tests;

public sealed class RecomputationTests
{
    private static PlantAnswers Answers => Demo.FullAnswers.Value;

    private static PlantTruth Truth => Demo.Full.Value.Truth;

    [Theory]
    [InlineData(TroubleKind.LotNotScanned, "material-not-recorded")]
    [InlineData(TroubleKind.AdhesiveNotScanned, "material-not-recorded")]
    [InlineData(TroubleKind.ContainerNotScanned, "container-not-recorded")]
    [InlineData(TroubleKind.SerialNotScanned, "component-not-recorded")]
    [InlineData(TroubleKind.LoadedTooEarly, "interval-too-short")]
    [InlineData(TroubleKind.ClampedTooLong, "interval-too-long")]
    [InlineData(TroubleKind.SetInDoubt, "interval-undetermined")]
    [InlineData(TroubleKind.ContainerPastLife, "container-past-life")]
    [InlineData(TroubleKind.UsedAfterQuarantine, "lot-not-released")]
    [InlineData(TroubleKind.ExpirySetEarlier, "lot-expired")]
    [InlineData(TroubleKind.DriverFoundOut, "tool-found-out")]
    [InlineData(TroubleKind.WrongClutchSetting, "tool-setting-wrong")]
    [InlineData(TroubleKind.LeakedForBadLot, "value-out-of-limits")]
    [InlineData(TroubleKind.LotChangedMidShift, "lot-ambiguous")]
    [InlineData(TroubleKind.Unqualified, "person-not-qualified")]
    [InlineData(TroubleKind.LoadedTooEarlyByDose, "interval-too-short")]
    [InlineData(TroubleKind.DriverFailedCheck, "tool-found-out")]
    [InlineData(TroubleKind.DripsForBadTool, "defect-reported")]
    [InlineData(TroubleKind.LooseForBadContainer, "defect-reported")]
    [InlineData(TroubleKind.QualificationExpired, "person-not-qualified")]
    [InlineData(TroubleKind.Polished, "check-failed")]
    [InlineData(TroubleKind.UsedAsIs, "check-failed")]
    [InlineData(TroubleKind.PotLifeExceeded, "pot-life-exceeded")]
    [InlineData(TroubleKind.MixRatioOff, "mix-ratio-out-of-limits")]
    [InlineData(TroubleKind.MixNotWeighed, "mix-ratio-not-recorded")]
    [InlineData(TroubleKind.MixNotScanned, "material-not-recorded")]
    [InlineData(TroubleKind.TransferTooSlow, "interval-too-long")]
    [InlineData(TroubleKind.ClockSevenMinutesOff, "clock-doubtful")]
    [InlineData(TroubleKind.ClockTwentySixHoursOff, "clock-doubtful")]
    public void Trouble_is_found_at_the_step_that_it_hit(TroubleKind trouble, string kind)
    {
        var recorded = Truth.Troubles.Where(t => t.Kind == trouble && Answers.Units[t.Unit].Steps.Any(s => s.Step == t.Step)).ToList();
        Assert.NotEmpty(recorded);
        Assert.All(recorded, t => Assert.Contains(Answers.Units[t.Unit].Findings, f => f.Kind == kind && f.Step == t.Step));
    }

    [Theory]
    [InlineData("component-held")]
    [InlineData("component-unknown")]
    [InlineData("component-elsewhere")]
    [InlineData("lot-unknown")]
    [InlineData("container-not-opened")]
    [InlineData("station-not-for-step")]
    [InlineData("tool-not-calibrated")]
    [InlineData("tool-withdrawn")]
    [InlineData("lot-not-inspected")]
    [InlineData("pot-life-undetermined")]
    [InlineData("mix-part-wrong")]
    [InlineData("supervisor-not-qualified")]
    [InlineData("shipped-on-hold")]
    [InlineData("quantity-out-of-limits")]
    [InlineData("limit-not-derivable")]
    [InlineData("step-not-in-revision")]
    [InlineData("characteristic-not-required")]
    public void Trouble_that_the_plant_does_not_have_is_not_found(string kind) =>
        Assert.Empty(Answers.Units.Values.SelectMany(u => u.Findings.Where(f => f.Kind == kind).Select(f => (u.Unit, f))));

    [Fact]
    public void A_unit_without_trouble_has_no_findings_but_those_of_chance()
    {
        // What chance alone can do in this plant: values near a limit, scratches.
        string[] byChance = ["value-in-guard-band", "value-out-of-limits", "check-failed", "defect-reported", "worked-on-after-end"];
        var hit = Truth.Troubles.Select(t => t.Unit).ToHashSet(StringComparer.Ordinal);
        var found = Answers.Units.Values.Where(u => !hit.Contains(u.Unit))
            .SelectMany(u => u.Findings.Where(f => !byChance.Contains(f.Kind, StringComparer.Ordinal)).Select(f => $"{u.Unit} {f}")).ToList();
        Assert.Empty(found);
    }

    [Fact]
    public void The_scope_of_the_bad_lot_misses_no_unit_that_really_has_it()
    {
        var really = Truth.UnitsWith(Truth.BadItem, Truth.BadLot);
        var scope = Answers.Scope(Truth.BadItem, Truth.BadLot).Select(m => m.Unit).ToHashSet(StringComparer.Ordinal);
        Assert.NotEmpty(really);
        Assert.Empty(really.Except(scope, StringComparer.Ordinal));
    }

    [Fact]
    public void No_scope_of_any_lot_or_container_misses_a_unit_that_really_has_it()
    {
        foreach (var (item, lot) in Answers.Lots)
        {
            Assert.Empty(Truth.UnitsWith(item, lot).Except(Answers.Scope(item, lot).Select(m => m.Unit), StringComparer.Ordinal));
            foreach (var container in Answers.ContainersOf(item, lot))
            {
                Assert.Empty(Truth.UnitsWith(item, lot, container).Except(Answers.Scope(item, lot, container).Select(m => m.Unit), StringComparer.Ordinal));
            }
        }
    }

    [Fact]
    public void What_is_proven_is_true()
    {
        foreach (var (item, lot) in Answers.Lots)
        {
            var proven = Answers.Scope(item, lot).Where(m => m.Verdict == ScopeVerdict.Proven).Select(m => m.Unit);
            Assert.Empty(proven.Except(Truth.UnitsWith(item, lot), StringComparer.Ordinal));
        }
    }

    [Fact]
    public void The_bad_lot_has_members_that_are_proven_that_are_only_possible_and_that_are_clear_now()
    {
        var scope = Answers.Scope(Truth.BadItem, Truth.BadLot);
        Assert.Contains(scope, m => m.Verdict == ScopeVerdict.Proven && m.Place == "shipped");
        Assert.Contains(scope, m => m is { Verdict: ScopeVerdict.Proven, Now: ScopeVerdict.Cleared });
        Assert.Contains(scope, m => m.Verdict == ScopeVerdict.Possible);
    }

    [Fact]
    public void Leak_tests_fail_where_the_bad_lot_is_inside()
    {
        var bad = Truth.UnitsWith(Truth.BadItem, Truth.BadLot);
        var tested = Answers.Units.Values.Where(u => u.Steps.Any(s => s.Step == "LEAK")).ToList();
        double Failed(bool inside) => tested.Where(u => bad.Contains(u.Unit) == inside).Average(u => u.Steps.First(s => s.Step == "LEAK").Passed ? 0 : 1);
        Assert.InRange(Failed(inside: true), 0.3, 0.9);
        Assert.InRange(Failed(inside: false), 0, 0.1);
    }

    [Fact]
    public void What_is_really_inside_a_unit_is_what_its_records_say_where_they_say_something()
    {
        foreach (var content in Truth.Contents)
        {
            var unscanned = Truth.Troubles.Any(t => t.Kind == TroubleKind.SerialNotScanned && t.Unit == content.Parent && t.Detail == content.Component);
            var isRecorded = Answers.Units[content.Parent].Contents.Any(c => c.Component == content.Component && (c.To is null) == (content.To is null));
            var isUnderWay = content.From > Demo.Full.Value.Now.AddHours(-1);
            Assert.True(isRecorded || unscanned || isUnderWay, content.ToString());
        }
    }

    [Fact]
    public void Something_cures_now_and_something_is_overdue()
    {
        var now = Answers.Now;
        Assert.Contains(Answers.OpenIntervals(), o => o.Open.ReadyAt > now);
        Assert.Contains(Answers.Overdue(), o => o.Open.Rule == "TAPE-CLAMP");
        Assert.Contains(Answers.Overdue(), o => o.Open.Rule == "TRANSFER");
    }

    [Fact]
    public void Places_are_of_every_kind() =>
        Assert.Equal(
            ["in-process", "in-stock", "on-hold", "returned", "scrapped", "shipped"],
            Answers.Units.Values.Select(u => u.Place).Distinct(StringComparer.Ordinal).Order(StringComparer.Ordinal).ToArray());

    [Fact]
    public void A_correction_and_its_void_leave_the_unit_as_it_was()
    {
        var unit = Truth.Troubles.First(t => t.Kind == TroubleKind.CorrectionVoided).Unit;
        var without = Demo.Full.Value.Facts.Where(f => f.Unit != unit || f.Type is not ("record-corrected" or "record-voided")).ToList();
        var before = Recomputation.Of(without, Answers.Now).Units[unit];
        Assert.Equal(before.Usages, Answers.Units[unit].Usages);
        Assert.Equal(before.Findings, Answers.Units[unit].Findings);
    }

    [Fact]
    public void A_corrected_lot_counts_as_corrected()
    {
        var corrected = Truth.Troubles.Where(t => t.Kind == TroubleKind.LotCorrected).Select(t => t.Unit).ToList();
        Assert.NotEmpty(corrected);
        Assert.All(corrected, unit => Assert.Equal(
            Truth.Uses.Where(u => u.Unit == unit && u.Step == "LENS").Select(u => u.Lot),
            Answers.Units[unit].Usages.Where(u => u.Step == "LENS").Select(u => u.Lot),
            StringComparer.Ordinal));
    }

    [Fact]
    public void The_order_of_the_facts_changes_nothing()
    {
        var plant = Demo.Small.Value;
        var random = new SplitMix(3);
        var definitions = plant.Facts.Where(f => f.Sender == Senders.Engineer);
        var shuffled = definitions.Concat(plant.Facts.Where(f => f.Sender != Senders.Engineer).OrderBy(_ => random.Next())).ToList();
        var (a, b) = (Recomputation.Of(plant.Facts, plant.Now), Recomputation.Of(shuffled, plant.Now));
        Assert.Equal(a.Units.Count, b.Units.Count);
        Assert.All(a.Units.Values, unit =>
        {
            Assert.Equal(unit.Findings, b.Units[unit.Unit].Findings);
            Assert.Equal(unit.Steps, b.Units[unit.Unit].Steps);
            Assert.Equal(unit.Open, b.Units[unit.Unit].Open);
        });
    }

    [Fact]
    public void Yields_add_up_to_the_attempts()
    {
        var first = Answers.Units.Values.Sum(u => u.Steps.Count(s => s.Attempt == 1));
        Assert.Equal(first, Answers.StepYields().Values.Sum(y => y.Of));
        var throughput = Answers.RolledThroughput("FP-2", "A", k => k.Variant == "FP-2C");
        var byHand = Answers.StepYields("FP-2", k => k.Variant == "FP-2C").Values.Aggregate(1.0, (p, y) => p * y.Value!.Value);
        Assert.Equal(byHand, throughput!.Value, 1e-12);
        Assert.InRange(throughput.Value, 0.5, 0.95);
    }
}
