using Traceability.Domain.Judging;
using Traceability.Domain.Nonconformances;
using Traceability.Domain.Primitives;
using Traceability.Domain.ProductUnits;
using Traceability.Domain.Tests.Judging;
using Traceability.Testing.Building;
using Xunit;

namespace Traceability.Domain.Tests.Nonconformances;

public sealed class NonconformanceTests
{
    private static string[] Open(UnitStory story) =>
        [.. NonconformanceRules.OpenOf(story.Judgement).Select(n => $"{n.Kind} {n.Rule}")];

    [Fact]
    public void A_unit_without_a_defect_has_none() =>
        Assert.Empty(Lamp.Given.Wired(0).Sealed(10).Judgement.Nonconformances);

    [Fact]
    public void A_finding_that_counts_as_a_defect_is_one_and_another_finding_is_not()
    {
        // The order was broken, which is a finding but no defect; the value is out of its limits, which is both.
        var story = Lamp.Given.Sealed(0, depth: 11);
        story.ShouldFind("prerequisite-not-passed WIRE", "value-out-of-limits DEPTH");
        var found = Assert.Single(story.Judgement.Nonconformances);
        Assert.Equal(
            (story.Last("value-out-of-limits", "DEPTH"), NonconformanceState.Open, Some.Step("SEAL"), 1, story.LastId, Some.At(0)),
            (found.Id, found.State, found.Step, found.Attempt, found.Record, found.At));
        Assert.True(found.IsOpen);
    }

    [Fact]
    public void The_last_attempt_counts_a_pass_settles_and_a_failure_opens_again()
    {
        var story = Lamp.Given.Wired(0, passed: false);
        var id = story.Last("check-failed", "POLARITY");
        story.Wired(5);
        var settled = story.Find(id);
        Assert.Equal((NonconformanceState.Settled, Some.At(5), (Guid?)story.LastId), (settled.State, settled.EndedAt, settled.EndedBy));
        Assert.Empty(Open(story));

        Assert.Equal(["check-failed POLARITY", "check-failed POLARITY"], Open(story.Wired(7, passed: false)));
    }

    [Fact]
    public void A_pass_before_the_failure_settles_nothing_also_when_it_is_told_later() =>
        Assert.Equal(["check-failed POLARITY"], Open(Lamp.Given.Wired(10, passed: false).Wired(5)));

    [Fact]
    public void A_decision_stays_with_its_record_when_a_late_attempt_renumbers_it()
    {
        var story = Lamp.Given.Wired(10, passed: false);
        var id = story.Last("check-failed", "POLARITY");
        story.TakenUp(20, id).Wired(5, passed: false);
        var (late, first) = (story.Last("check-failed", "POLARITY"), story.Find(id));
        Assert.Equal((NonconformanceState.UnderDecision, 2), (first.State, first.Attempt));
        Assert.Equal((NonconformanceState.Open, 1), (story.Find(late).State, story.Find(late).Attempt));
    }

    [Fact]
    public void What_is_taken_up_is_not_settled_by_a_later_pass()
    {
        var story = Lamp.Given.Wired(0, passed: false);
        var id = story.Last("check-failed", "POLARITY");
        Assert.Equal(NonconformanceState.UnderDecision, story.TakenUp(3, id).Wired(5).Find(id).State);
    }

    [Fact]
    public void A_report_is_open_until_it_is_decided()
    {
        var story = Lamp.Given.Wired(0).Sealed(10).Reported(20);
        var id = NonconformanceId.OfReport(story.LastId);
        story.Sealed(30);
        var found = story.Find(id);
        Assert.Equal((NonconformanceState.Open, NonconformanceRules.Reported, "CHIP", "A chip at the rim"), (found.State, found.Kind, found.Rule, found.Message));
        story.ShouldFind();
    }

    [Fact]
    public void A_report_with_a_code_that_is_not_known_is_recorded_and_found()
    {
        var story = Lamp.Given.Reported(20, "NONE");
        story.ShouldFind("defect-unknown NONE");
        Assert.Equal([$"{NonconformanceRules.Reported} NONE"], Open(story));
    }

    [Fact]
    public void A_report_that_is_void_is_moot_and_comes_back_when_the_void_is_undone()
    {
        var story = Lamp.Given.Reported(20);
        var id = NonconformanceId.OfReport(story.LastId);
        story.TakenUp(30, id).Void(story.Facts[^2].Id, 40);
        Assert.Equal(NonconformanceState.Moot, story.Find(id).State);
        Assert.Empty(Open(story));
        Assert.Equal(NonconformanceState.UnderDecision, story.Void(story.LastId, 50).Find(id).State);
    }

    [Fact]
    public void A_correction_that_removes_the_finding_makes_it_moot_and_its_undoing_restores_it()
    {
        var story = Lamp.Given.Wired(0).Sealed(10, depth: 11);
        var (record, id) = (story.LastId, story.Last("value-out-of-limits", "DEPTH"));
        story.Disposed(20, id, Disposition.UseAsIs, Lamp.Wide);
        var right = new StepRecord(Lamp.Unit, "SEAL", Some.At(10)).Measured("DEPTH", 9, "mm").Fact;
        story.Correct(record, right, 30);
        var moot = story.Find(id);
        Assert.Equal(
            (NonconformanceState.Moot, "value-out-of-limits", "DEPTH", Some.Step("SEAL"), Some.At(10), (Disposition?)Disposition.UseAsIs),
            (moot.State, moot.Kind, moot.Rule, moot.Step, moot.At, moot.Disposition));

        var restored = story.Void(story.LastId, 40).Find(id);
        Assert.Equal((NonconformanceState.Closed, Some.Code("C-1")), (restored.State, restored.Concession));
    }

    [Fact]
    public void A_finding_that_nobody_decided_about_goes_without_a_trace_when_it_was_misread()
    {
        var story = Lamp.Given.Wired(0, passed: false);
        story.Correct(story.LastId, new StepRecord(Lamp.Unit, "WIRE", Some.At(0)).Checked("POLARITY").Fact);
        Assert.Empty(story.Judgement.Nonconformances);
    }

    [Fact]
    public void The_decision_that_happened_last_counts_in_whatever_order_they_arrive()
    {
        var story = Lamp.Given.Wired(0, passed: false);
        var id = story.Last("check-failed", "POLARITY");
        story.Disposed(30, id, Disposition.Scrap).Disposed(20, id, Disposition.UseAsIs, Lamp.Wide);
        Assert.Equal((NonconformanceState.Disposed, Disposition.Scrap), (story.Find(id).State, story.Find(id).Disposition));
        Assert.Equal(NonconformanceState.Closed, story.Void(story.Facts[^2].Id).Find(id).State);
    }

    [Fact]
    public void Scrap_is_closed_by_the_scrapping_and_so_is_whatever_else_was_open()
    {
        var story = Lamp.Given.Wired(0, passed: false);
        var id = story.Last("check-failed", "POLARITY");
        story.Disposed(10, id, Disposition.Scrap).Reported(12);
        Assert.Equal(2, Open(story).Length);
        Assert.Equal(Place.InProcess, story.Judgement.Status.Place);
        story.Tell(new UnitScrapped(Lamp.Unit, "as disposed") { OccurredAt = Some.At(20) });
        Assert.Empty(Open(story));
        Assert.All(story.Judgement.Nonconformances, n => Assert.Equal((NonconformanceState.Closed, (Guid?)story.LastId), (n.State, n.EndedBy)));
        Assert.Equal(2, Open(story.Void(story.LastId)).Length);
    }

    [Theory]
    [InlineData(9.999, NonconformanceState.Disposed)]
    [InlineData(10, NonconformanceState.Closed)]
    [InlineData(11, NonconformanceState.Closed)]
    public void A_return_to_the_supplier_is_closed_when_the_unit_leaves_not_before_the_decision(double left, NonconformanceState expected)
    {
        var story = Lamp.Given.Wired(0, passed: false);
        var id = story.Last("check-failed", "POLARITY");
        story.Disposed(10, id, Disposition.ReturnToSupplier).Tell(new UnitShipped(Lamp.Unit, "Fell End Supplies", null) { OccurredAt = Some.At(left) });
        Assert.Equal(expected, story.Find(id).State);
    }

    [Fact]
    public void A_unit_that_could_not_be_judged_tells_none()
    {
        var story = Lamp.Given.Wired(0, passed: false);
        Assert.Empty(Judge.Unit(story.ProductUnit, References.None).Nonconformances);
    }
}
