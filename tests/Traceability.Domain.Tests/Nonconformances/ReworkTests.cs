using Traceability.Domain.Judging;
using Traceability.Domain.Nonconformances;
using Traceability.Domain.Primitives;
using Traceability.Domain.Tests.Judging;
using Traceability.Testing.Building;
using Xunit;

namespace Traceability.Domain.Tests.Nonconformances;

/// <summary>The lamp was wired, sealed, closed and labelled when a chip was seen at 40. At 50 it was decided to rework the wiring.</summary>
public sealed class ReworkTests
{
    private static (UnitStory Story, NonconformanceId Id) Given(Disposition disposition = Disposition.Rework, params string[] reopens)
    {
        var story = Lamp.Given.Wired(0).Sealed(10).Done("CLOSE", 20).Done("LABEL", 30).Reported(40);
        var id = NonconformanceId.OfReport(story.LastId);
        return (story.Disposed(50, id, disposition, null, reopens.Length > 0 ? reopens : ["WIRE"]), id);
    }

    private static string Awaited((UnitStory Story, NonconformanceId Id) at) => string.Join(' ', at.Story.Find(at.Id).Awaited);

    [Fact]
    public void What_depends_on_a_re_opened_step_and_was_done_is_to_be_done_again_too()
    {
        // LABEL needs nothing, TEST was not done yet.
        Assert.Equal("WIRE SEAL CLOSE", Awaited(Given()));
        Assert.Equal("SEAL CLOSE", Awaited(Given(Disposition.Repair, "SEAL")));
        Assert.Equal("LABEL", Awaited(Given(Disposition.Rework, "LABEL")));
        Assert.Equal("LABEL TEST", Awaited(Given(Disposition.Rework, "LABEL", "TEST")));
    }

    [Fact]
    public void It_is_closed_when_the_last_of_them_is_done()
    {
        var (story, id) = Given();
        Assert.Equal("SEAL CLOSE", Awaited((story.Wired(60, isRework: true), id)));
        Assert.Equal("CLOSE", Awaited((story.Sealed(70), id)));
        Assert.Equal(NonconformanceState.Disposed, story.Find(id).State);
        var closed = story.Done("CLOSE", 80).Find(id);
        Assert.Equal((NonconformanceState.Closed, Some.At(80), (Guid?)story.LastId), (closed.State, closed.EndedAt, closed.EndedBy));
        Assert.Empty(closed.Awaited);
        story.ShouldFind();
    }

    [Fact]
    public void A_named_step_is_redone_by_rework_and_not_by_a_mere_repeat()
    {
        var (story, id) = Given(Disposition.Rework, "LABEL");
        Assert.Equal("LABEL", Awaited((story.Done("LABEL", 60), id)));
        Assert.Equal(NonconformanceState.Closed, story.Done("LABEL", 61, s => s.Rework()).Find(id).State);
    }

    [Fact]
    public void A_rework_that_failed_is_still_awaited()
    {
        var (story, id) = Given();
        Assert.Equal("WIRE SEAL CLOSE", Awaited((story.Wired(60, passed: false, isRework: true), id)));
    }

    [Theory]
    [InlineData(50, "LABEL")]
    [InlineData(50.001, "")]
    public void Only_what_was_done_after_the_decision_counts(double at, string awaited)
    {
        var (story, id) = Given(Disposition.Rework, "LABEL");
        Assert.Equal(awaited, Awaited((story.Done("LABEL", at, s => s.Rework()), id)));
    }

    [Fact]
    public void What_was_redone_before_the_step_that_it_needs_is_to_be_done_once_more()
    {
        var (story, id) = Given();
        story.Sealed(60).Wired(70, isRework: true).Done("CLOSE", 80);
        Assert.Equal("SEAL CLOSE", Awaited((story, id)));
        Assert.Equal(string.Empty, Awaited((story.Sealed(90).Done("CLOSE", 100), id)));
    }

    [Fact]
    public void A_step_that_needs_a_re_opened_one_breaks_the_order_until_that_is_done_again()
    {
        var (story, _) = Given();
        var finding = story.Sealed(60).ShouldFind("prerequisite-not-passed WIRE").Findings[0];
        Assert.Equal("re-opened", finding.Evidence["last-attempt"]);
        Assert.Equal(Some.At(60), finding.At);
    }

    [Fact]
    public void A_step_that_was_done_before_the_decision_broke_no_order() =>
        Given().Story.ShouldFind();

    [Fact]
    public void Another_decision_ends_the_re_opening()
    {
        var (story, id) = Given();
        story.Disposed(55, id, Disposition.UseAsIs, Lamp.Wide).Sealed(60).ShouldFind();
        Assert.Equal(NonconformanceState.Closed, story.Find(id).State);
    }

    [Fact]
    public void Asked_first_the_terminal_is_told_to_redo_the_re_opened_step_before()
    {
        var (story, _) = Given();
        Assert.Equal(Some.Step("WIRE"), Assert.Single(Readiness.NextSteps(story.ProductUnit, story.References)));
        var answer = Readiness.Ask(story.ProductUnit, story.References, new(Some.Step("SEAL"), Some.Station, Some.Person, [], [], [], Some.At(60)));
        Assert.Equal((ReadinessVerdict.No, "prerequisite-not-passed"), (answer.Verdict, answer.Reasons[0].Kind));
        story.Wired(60, isRework: true);
        Assert.Equal(Some.Step("SEAL"), Assert.Single(Readiness.NextSteps(story.ProductUnit, story.References)));
    }

    [Fact]
    public void A_re_opened_step_leaves_no_gap_in_the_records() =>
        Assert.Empty(Given().Story.Judgement.Gaps);

    [Fact]
    public void The_rework_of_a_finding_closes_it_and_its_void_opens_it_again()
    {
        var story = Lamp.Given.Wired(0).Sealed(10, depth: 11);
        var id = story.Last("value-out-of-limits", "DEPTH");
        story.Disposed(20, id, Disposition.Rework, null, "SEAL").Sealed(30, depth: 5, isRework: true);
        Assert.Equal(NonconformanceState.Closed, story.Find(id).State);
        Assert.Equal(NonconformanceState.Disposed, story.Void(story.LastId).Find(id).State);
    }
}
