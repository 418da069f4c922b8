using Traceability.Domain.Judging;
using Traceability.Domain.Primitives;
using Traceability.Domain.ProductUnits;
using Traceability.Domain.Routings;
using Traceability.Testing.Building;
using Xunit;

namespace Traceability.Domain.Tests.Judging;

public sealed class RevisionTests
{
    private static readonly UnitKey Lamp = Some.Unit("LAMP", "15");

    private static readonly RoutingBuilder A = new RoutingBuilder("LAMP", "A").Step("GLUE").Step("TEST", s => s.After("GLUE"));

    private static readonly RoutingBuilder B = new RoutingBuilder("LAMP", "B")
        .For(Effectivity.Always with { SerialFrom = SerialNumber.Parse("20") })
        .Step("GLUE", s => s.Material("GLUE", "ADH-1")).Step("TEST", s => s.After("GLUE").Check("LIGHT"));

    private static UnitStory Given => new UnitStory(Lamp).Routing(A, B).Lot("ADH-1", "L1").Open();

    [Fact]
    public void The_revision_effective_for_the_serial_counts()
    {
        Assert.Equal(RevisionCode.Parse("A"), Given.Done("GLUE", 0).ShouldFind().Status.Revision);
        Assert.Equal(RevisionCode.Parse("B"), new UnitStory(Some.Unit("LAMP", "20")).Routing(A, B).Open().Done("GLUE", 0).ShouldFind("material-not-recorded GLUE").Status.Revision);
    }

    [Fact]
    public void Records_before_a_move_are_judged_by_the_old_revision_and_carried_over_by_decision()
    {
        var judgement = Given.Done("GLUE", 0).Tell(Move("B", "GLUE")).Done("TEST", 20, s => s.Checked("LIGHT")).ShouldFind();
        Assert.Equal([RevisionCode.Parse("A"), RevisionCode.Parse("B")], judgement.Steps.Select(s => s.Revision));
        Assert.Empty(judgement.Gaps);
    }

    [Fact]
    public void What_is_not_carried_over_counts_as_not_done()
    {
        var judgement = Given.Done("GLUE", 0).Tell(Move("B")).Done("TEST", 20, s => s.Checked("LIGHT")).ShouldFind("prerequisite-not-passed GLUE");
        var gap = Assert.Single(judgement.Gaps);
        Assert.Equal((GapReason.StepNotRecorded, Some.Step("GLUE")), (gap.Reason, gap.Step));
        Given.Done("GLUE", 0).Tell(Move("B")).Done("GLUE", 12, s => s.Used("ADH-1", "L1")).Done("TEST", 20, s => s.Checked("LIGHT")).ShouldFind();
    }

    [Fact]
    public void A_move_to_a_revision_that_is_not_released_is_found_and_moves_nothing() =>
        Assert.Equal(RevisionCode.Parse("A"), Given.Tell(Move("Z", "GLUE")).ShouldFind("no-effective-revision Z").Status.Revision);

    [Fact]
    public void A_step_that_the_revision_lacks_is_found() => Given.Done("COAT", 0).ShouldFind("step-not-in-revision");

    [Fact]
    public void Without_a_revision_nothing_can_be_judged_and_that_is_found()
    {
        var judgement = new UnitStory(Lamp).Open().Done("GLUE", 0, s => s.Used("ADH-1", "L1")).ShouldFind("no-effective-revision");
        Assert.Null(judgement.Status.Revision);
        Assert.Single(judgement.Usages);
    }

    private static UnitMovedToRevision Move(string revision, params string[] carriesOver) =>
        new(Lamp, RevisionCode.Parse(revision), [.. carriesOver.Select(StepCode.Parse)], "better glue", Some.Quality) { OccurredAt = Some.At(10), Clock = Some.RightClock };
}
