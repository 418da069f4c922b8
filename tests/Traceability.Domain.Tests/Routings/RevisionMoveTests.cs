using System.Text.Json;
using CsCheck;
using Traceability.Domain.Judging;
using Traceability.Domain.Primitives;
using Traceability.Domain.ProductUnits;
using Traceability.Domain.Routings;
using Traceability.Testing.Building;
using Xunit;

namespace Traceability.Domain.Tests.Routings;

public sealed class RevisionMoveTests
{
    private static readonly UnitKey Lamp = Some.Unit("LAMP", "1");

    private static readonly RoutingBuilder A = Base("A");

    private static RoutingBuilder Base(string revision, string adhesive = "ADH-1", decimal bore = 8.73m, double cure = 8) => new RoutingBuilder("LAMP", revision)
        .Step("WIRE", s => s.Measure("BORE", "mm", 8.5m, bore))
        .Step("GLUE", s => s.Material("ADHESIVE", adhesive))
        .Step("CLOSE", s => s.PointOfNoReturn("WIRE").After("WIRE"))
        .Step("TEST", s => s.After("CLOSE", "GLUE"))
        .Interval("CURE", "GLUE.completed", "TEST.started", cure);

    // Revision A is effective, since the other is released before it.
    private static UnitStory Given(RoutingBuilder other) => new UnitStory(Lamp).Routing(other, A).Lot("ADH-1", "L1").Open();

    private static RevisionMovePlan Plan(UnitStory story, RoutingBuilder to) => RevisionMove.Plan(story.ProductUnit, story.References, to.Build());

    private static UnitStory Wired(UnitStory story) => story.Done("WIRE", 0, s => s.Measured("BORE", 8.6m, "mm"));

    private static UnitStory Glued(UnitStory story) => story.Done("GLUE", 5, s => s.Used("ADH-1", "L1"));

    [Fact]
    public void What_differs_and_what_builds_on_it_is_done_again_and_the_rest_carries_over()
    {
        var b = Base("B", "ADH-2");
        var plan = Plan(Glued(Wired(Given(b))).Done("CLOSE", 6).Done("TEST", 20), b);

        Assert.Equal(MoveVerdict.CanMove, plan.Verdict);
        Assert.Equal((RevisionCode.Parse("A"), RevisionCode.Parse("B"), 5), (plan.From!.Value, plan.To, plan.Version));
        Assert.Equal(["WIRE", "CLOSE"], plan.CarriesOver.Select(s => s.Step.ToString()));
        Assert.Equal(["GLUE", "TEST"], plan.Again.Select(s => s.Step.ToString()));
        Assert.Equal(["GLUE", "TEST"], plan.Open.Select(s => s.ToString()));
        Assert.Equal(["Step GLUE, material ADHESIVE: item is now ADH-2; before: ADH-1."], plan.Again[0].Why.ToArray());
        Assert.Equal(["It builds on step GLUE, which differs."], plan.Again[1].Why.ToArray());
    }

    [Fact]
    public void A_point_of_no_return_over_something_that_differs_holds_the_unit_where_it_is()
    {
        var b = Base("B", bore: 8.7m);
        Assert.Equal(MoveVerdict.CanMove, Plan(Wired(Given(b)), b).Verdict);

        var plan = Plan(Wired(Given(b)).Done("CLOSE", 6), b);
        Assert.Equal(MoveVerdict.CannotMove, plan.Verdict);
        var obstacle = Assert.Single(plan.Obstacles);
        Assert.Equal((MoveBlock.PointOfNoReturnPassed, Some.Step("CLOSE")), (obstacle.Kind, obstacle.Step));
        Assert.Contains("builds on step WIRE", obstacle.Message, StringComparison.Ordinal);
    }

    [Fact]
    public void A_point_of_no_return_that_the_revision_drops_or_makes_anew_holds_it_too()
    {
        var without = new RoutingBuilder("LAMP", "B").Step("WIRE", s => s.Measure("BORE", "mm", 8.5m, 8.73m));
        Assert.Equal(MoveBlock.PointOfNoReturnPassed, Assert.Single(Plan(Wired(Given(without)).Done("CLOSE", 6), without).Obstacles).Kind);
        var glue = new RoutingBuilder("LAMP", "B").Step("WIRE", s => s.Measure("BORE", "mm", 8.5m, 8.73m)).Step("GLUE", s => s.Material("ADHESIVE", "ADH-1").PointOfNoReturn());
        Assert.Equal(Some.Step("GLUE"), Assert.Single(Plan(Glued(Wired(Given(glue))), glue).Obstacles).Step);
    }

    [Fact]
    public void An_interval_that_differs_is_a_matter_of_the_step_that_it_ends_at()
    {
        var b = Base("B", cure: 10);
        var plan = Plan(Glued(Wired(Given(b))).Done("CLOSE", 6).Done("TEST", 20), b);
        Assert.Equal(["TEST"], plan.Again.Select(s => s.Step.ToString()));
    }

    [Fact]
    public void A_unit_that_is_there_is_not_being_built_or_is_of_another_kind_is_told()
    {
        Assert.Equal(MoveVerdict.AlreadyThere, Plan(Given(Base("B")), A).Verdict);
        Assert.Equal(MoveBlock.NotInProcess, Assert.Single(Plan(Given(Base("B")).Released(30), Base("B")).Obstacles).Kind);
        var coastal = Base("B").For(Effectivity.Always with { Variants = [VariantCode.Parse("C")] });
        Assert.Equal(MoveBlock.NotForUnit, Assert.Single(Plan(Given(coastal), coastal).Obstacles).Kind);
        var late = Base("B").For(Effectivity.Always with { SerialFrom = SerialNumber.Parse("100") });
        var plan = Plan(Given(late), late);
        Assert.Equal(MoveVerdict.CanMove, plan.Verdict);
        Assert.Contains("from serial 100", Assert.Single(plan.Notes), StringComparison.Ordinal);
        var none = new UnitStory(Lamp).Open();
        Assert.Equal(MoveBlock.NoRevision, Assert.Single(Plan(none, Base("B")).Obstacles).Kind);
    }

    [Fact]
    public void Carried_out_the_plan_leaves_open_exactly_what_it_said()
    {
        var b = Base("B", "ADH-2");
        var story = Glued(Wired(Given(b))).Done("CLOSE", 6).Done("TEST", 20);
        var plan = Plan(story, b);
        story.Lot("ADH-2", "L2").Tell(new UnitMovedToRevision(Lamp, plan.To, [.. plan.CarriesOver.Select(s => s.Step)], "better glue", Some.Quality) { OccurredAt = Some.At(30), Clock = Some.RightClock, DecidedAtVersion = plan.Version });

        Assert.Equal(["GLUE"], Readiness.NextSteps(story.ProductUnit, story.References).Select(s => s.ToString()));
        story.Done("GLUE", 40, s => s.Used("ADH-2", "L2"));
        Assert.Equal(["TEST"], Readiness.NextSteps(story.ProductUnit, story.References).Select(s => s.ToString()));
        story.Done("TEST", 60).ShouldHaveNoGap();
    }

    [Theory]
    [InlineData(null, null)]
    [InlineData(1, null)]
    [InlineData(2, "unit-changed")]
    [InlineData(0, "unit-changed")]
    public void A_move_that_was_decided_of_another_version_is_refused(int? version, string? code)
    {
        var story = Given(Base("B"));
        var move = new UnitMovedToRevision(Lamp, RevisionCode.Parse("B"), [], "better", Some.Quality) { OccurredAt = Some.At(30), DecidedAtVersion = version };
        Assert.Equal(code, UnitDecisions.Check(story.ProductUnit, move, story.References)?.Code);
    }

    // Naively: a step stands if it is written as before, is asked the same intervals, and the same holds of all that it needs.
    [Fact]
    public void What_carries_over_is_what_a_naive_reading_says() => Gen.Select(Routing, Routing, Gen.Int[0, 5]).Sample(
        (from, to, done) =>
        {
            var story = new UnitStory(Lamp).Routing(Builder("B", to), Builder("A", from)).Open();
            for (var i = 0; i < done; i++)
            {
                story.Done($"S{i}", i);
            }

            var (a, b) = (Builder("A", from).Build(), Builder("B", to).Build());
            var stands = b.Steps.Where(s => Stands(a, b, s)).Select(s => s.Code).ToHashSet();
            var doneSteps = a.Steps.Take(done).ToArray();
            var plan = Plan(story, Builder("B", to));

            Assert.Equal(doneSteps.Where(s => stands.Contains(s.Code)).Select(s => s.Code), plan.CarriesOver.Select(s => s.Step));
            Assert.Equal(doneSteps.Where(s => !stands.Contains(s.Code)).Select(s => s.Code), plan.Again.Select(s => s.Step));
            Assert.Equal(
                doneSteps.Any(s => !stands.Contains(s.Code) && (s.IsPointOfNoReturn || b.Find(s.Code)!.IsPointOfNoReturn)) ? MoveVerdict.CannotMove : MoveVerdict.CanMove,
                plan.Verdict);
        },
        iter: 2_000);

    private static readonly Gen<(int Kind, int Needs)[]> Routing = Gen.Select(Gen.Int[0, 2], Gen.Int[-1, 4]).Array[5].Select(Gen.Const(0), (s, _) => s);

    // Steps S0 to S4; of each: a check or none, a point of no return that hides all before it, one prerequisite.
    private static RoutingBuilder Builder(string revision, (int Kind, int Needs)[] steps)
    {
        var routing = new RoutingBuilder("LAMP", revision);
        for (var i = 0; i < steps.Length; i++)
        {
            var (kind, needs) = steps[i];
            routing.Step($"S{i}", s =>
            {
                if (needs >= 0 && needs < i)
                {
                    s.After($"S{needs}");
                }

                _ = kind == 1 ? s.Check("OK", isRequired: false) : kind == 2 ? s.PointOfNoReturn() : s;
            });
        }

        return routing;
    }

    private static bool Stands(RoutingRevision a, RoutingRevision b, Step step) =>
        a.Find(step.Code) is { } before && JsonSerializer.Serialize(before) == JsonSerializer.Serialize(step) && Needed(b, step).All(n => Stands(a, b, n));

    private static IEnumerable<Step> Needed(RoutingRevision revision, Step step) =>
        step.Prerequisites.Concat(step.IsPointOfNoReturn ? revision.Steps.TakeWhile(s => s.Code != step.Code).Select(s => s.Code) : []).Select(c => revision.Find(c)!);
}

internal static class GapAssertion
{
    public static void ShouldHaveNoGap(this UnitStory story) => Assert.Empty(story.Judgement.Gaps);
}
