using System.Collections.Immutable;
using CsCheck;
using Traceability.Domain.Facts;
using Traceability.Domain.Judging;
using Traceability.Domain.Primitives;
using Traceability.Domain.ProductUnits;
using Traceability.Domain.Routings;
using Traceability.Testing.Building;
using Xunit;

namespace Traceability.Domain.Tests.Judging;

/// <summary>May this unit start this step here, now, with these?</summary>
public sealed class ReadinessTests
{
    private static readonly UnitKey Lamp = Some.Unit("LAMP", "1");
    private static readonly UnitKey Head = Some.Unit("HEAD", "H1");

    private static UnitStory Given => new UnitStory(Lamp)
        .Routing(new RoutingBuilder("LAMP")
            .Step("BOND", s => s.AtStations("ST-1").Needs("BONDING").Caution("Solvent: ventilate.").Material("GLUE", "ADH-1", Tracing.Container).Check("SEATED"))
            .Step("LOAD", s => s.After("BOND").Tool("DRIVER", "SCREWDRIVER", "5", new(1.1m, "N.m"), new(1.3m, "N.m")))
            .Step("MARRY", s => s.Component("HEAD", "HEAD", mustBeReleased: true))
            .Step("CLOSE", s => s.After("LOAD").PointOfNoReturn("BOND"))
            .Interval("CURE", "BOND.completed", "LOAD.started", 5, 60)
            .Interval("REST", "BOND.completed", "LOAD.completed", 30))
        .Lot("ADH-1", "L1").Opened("ADH-1", "L1", "T1", -60)
        .Tool("SD-1", "SCREWDRIVER").Verified("SD-1", "5", new(1.2m, "N.m"))
        .Qualified("P-1", "BONDING")
        .Component(Head, releasedAt: -10)
        .Open();

    private static UnitStory Bonded => Given.Done("BOND", 0, s => s.Used("ADH-1", "L1", "T1").Checked("SEATED").Clock(new(TimeSpan.Zero, TimeSpan.FromSeconds(30), false)));

    [Fact]
    public void A_step_with_nothing_in_the_way_may_start_and_tells_what_it_needs()
    {
        var answer = Ask(Given, "BOND", 0);
        Assert.Equal(ReadinessVerdict.Go, answer.Verdict);
        Assert.Empty(answer.Reasons);
        Assert.Equal("Solvent: ventilate.", Assert.Single(answer.Needs!.Cautions));
        Assert.Equal(Some.Item("ADH-1"), Assert.Single(answer.Needs.Materials).Item);
        Assert.Equal(1, answer.Attempt);
    }

    [Fact]
    public void Every_reason_is_told_at_once()
    {
        var answer = Ask(
            Given.Lot("ADH-1", "OLD", Some.At(-1)).Tell(new UnitHeld(Lamp, "doubt") { OccurredAt = Some.At(-5) }),
            "BOND",
            0,
            person: "P-7",
            station: "ST-2",
            materials: [new(Some.Item("ADH-1"), [LotNumber.Parse("OLD")], null, null, null)]);
        Assert.Equal(ReadinessVerdict.No, answer.Verdict);
        Kinds(answer, "worked-on-while-held", "station-not-for-step", "container-not-recorded", "lot-expired", "person-not-qualified");
    }

    [Fact]
    public void An_offer_that_lacks_something_stops_and_no_offer_only_lists_the_need()
    {
        Assert.Equal(ReadinessVerdict.Go, Ask(Bonded, "LOAD", 20).Verdict);
        var offered = Ask(Given, "BOND", 0, materials: [new(Some.Item("GR-1"), [], null, null, null)]);
        Assert.Equal(ReadinessVerdict.No, offered.Verdict);
        Kinds(offered, "material-wrong-item");
        Assert.Equal(ReadinessVerdict.Go, Ask(Given, "BOND", 0, materials: [new(Some.Item("ADH-1"), [LotNumber.Parse("L1")], ContainerNumber.Parse("T1"), null, null)]).Verdict);
        var unnamed = Ask(Given, "BOND", 0, materials: [new(Some.Item("ADH-1"), [], null, null, null)]);
        Assert.Equal((ReadinessVerdict.No, Enforcement.Stop), (unnamed.Verdict, Assert.Single(unnamed.Reasons).Enforcement));
    }

    // The bond's clock may be off by 30 seconds, so its minimum of 5 minutes is met for certain after 5 minutes and a half.
    [Theory]
    [InlineData(5.49, ReadinessVerdict.Wait)]
    [InlineData(5.5, ReadinessVerdict.Go)]
    [InlineData(59.5, ReadinessVerdict.Go)]
    [InlineData(59.51, ReadinessVerdict.No)]
    [InlineData(61, ReadinessVerdict.No)]
    public void A_minimum_time_makes_wait_and_a_maximum_time_makes_no(double at, ReadinessVerdict verdict)
    {
        var answer = Ask(Bonded, "LOAD", at);
        Assert.Equal(verdict, answer.Verdict);
        Assert.Equal(verdict == ReadinessVerdict.Wait ? Some.At(5.5) : null, answer.WaitUntil);
        Assert.Equal(Some.At(30.5), answer.EarliestCompletion);
    }

    [Fact]
    public void Going_when_told_so_breaks_no_interval()
    {
        // The other way round: what is judged afterwards agrees with what was answered before.
        var minutes = Gen.OneOf(Gen.Int[3, 7], Gen.Int[58, 62], Gen.Int[0, 100]);
        minutes.Sample(at =>
        {
            var answer = Ask(Bonded, "LOAD", at);
            var done = Bonded.Done("LOAD", at + 31, s => s.Started(Some.At(at)).Tool("SD-1", "5")).Judgement;
            Assert.Equal(answer.Verdict == ReadinessVerdict.Go, !done.Findings.Any(f => f.Rule == "CURE"));
        });
    }

    [Fact]
    public void Other_reasons_win_over_waiting()
    {
        var answer = Ask(Bonded, "LOAD", 1, tools: [new(ToolNumber.Parse("SD-1"), Some.Code("2"), null)]);
        Assert.Equal((ReadinessVerdict.No, (DateTimeOffset?)null), (answer.Verdict, answer.WaitUntil));
        Kinds(answer, "interval-too-short", "tool-setting-wrong", "tool-setting-not-verified");
    }

    [Fact]
    public void A_flag_is_told_and_does_not_stop()
    {
        var routing = new RoutingBuilder("LAMP").Step("WIRE").Step("SEAL", s => s.After("WIRE").OrderPolicy(new(Enforcement.Flag, false)));
        var answer = Ask(new UnitStory(Lamp).Routing(routing).Open(), "SEAL", 0);
        Assert.Equal((ReadinessVerdict.Go, Enforcement.Flag), (answer.Verdict, Assert.Single(answer.Reasons).Enforcement));
    }

    [Fact]
    public void A_component_is_asked_about_before_it_is_put_in()
    {
        Assert.Equal(ReadinessVerdict.Go, Ask(Given, "MARRY", 0, components: [new(Some.Code("HEAD"), Head)]).Verdict);
        Kinds(Ask(Given.Inside(Head, Some.Unit("LAMP", "2"), -5), "MARRY", 0, components: [new(Some.Code("HEAD"), Head)]), "component-elsewhere");
        Kinds(Ask(Given, "MARRY", -20, components: [new(Some.Code("HEAD"), Head)]), "component-not-released");
        Kinds(Ask(Given.Component(Some.Unit("HEAD", "H2"), -10).Done("MARRY", 0, s => s.Fitted("HEAD", Head)), "MARRY", 5, components: [new(Some.Code("HEAD"), Some.Unit("HEAD", "H2"))]), "component-not-removed");
    }

    [Fact]
    public void A_point_of_no_return_is_refused_over_what_is_not_proven() =>
        Kinds(Ask(Given, "CLOSE", 0), "prerequisite-not-passed", "hidden-step-not-proven");

    [Fact]
    public void A_step_or_a_unit_that_no_revision_knows_is_refused()
    {
        Kinds(Ask(Given, "COAT", 0), "step-not-in-revision");
        Kinds(Ask(new UnitStory(Lamp), "BOND", 0), "no-effective-revision");
        Assert.Null(Ask(Given, "COAT", 0).Needs);
    }

    [Fact]
    public void An_unreadable_record_stops_until_it_is_cleared_up() =>
        Kinds(Ask(Given.Tell(new UnreadableFact("step_completed", "unknown member") { OccurredAt = Some.At(-1) }), "BOND", 0), "record-unreadable");

    [Fact]
    public void Derived_limits_are_told_before_the_work()
    {
        var limit = new Limit(0.1m, [new(1m, null, Some.Step("DEPTH"), Some.Code("DEPTH"))]);
        UnitStory Lamps() => new UnitStory(Lamp).Routing(new RoutingBuilder("LAMP").Step("DEPTH", s => s.Measure("DEPTH", "mm")).Step("SHIM", s => s.Measure("SHIM", "mm", null, limit))).Open();
        Assert.False(Ask(Lamps(), "SHIM", 0).Needs!.Characteristics[0].AreLimitsKnown);
        Assert.Equal(12.6m, Ask(Lamps().Done("DEPTH", -5, s => s.Measured("DEPTH", 1.25m, "cm")), "SHIM", 0).Needs!.Characteristics[0].Upper);
    }

    [Fact]
    public void Next_are_the_steps_whose_needs_are_met_and_that_have_not_passed()
    {
        Assert.Equal("BOND MARRY", Next(Given));
        Assert.Equal("LOAD MARRY", Next(Bonded));
        Assert.Equal("BOND MARRY", Next(Given.Done("BOND", 0, s => s.Checked("SEATED", passed: false))));
        Assert.Equal(string.Empty, Next(Bonded.Released(10)));
        Assert.Equal(string.Empty, Next(new UnitStory(Lamp)));
    }

    [Fact]
    public void Asking_never_fails()
    {
        var cases =
            from facts in Histories.Garbage
            from question in Gen.Int[0, 6]
            from minute in Gen.Int[-5, 40]
            select (facts, step: (string[])["WIRE", "GLUE", "BOND", "MARRY", "SCREW", "CLOSE", "NONE"], question, minute);

        cases.Sample(
            c =>
            {
                var unit = ProductUnit.Of(Histories.Lamp, c.facts);
                var answer = Readiness.Ask(unit, Histories.References, new(Some.Step(c.step[c.question]), null, null, default, default, default, Some.At(c.minute)));
                Assert.Equal(answer.Verdict == ReadinessVerdict.Go, answer.Reasons.All(r => r.Enforcement == Enforcement.Flag));
                Assert.True(Readiness.NextSteps(unit, Histories.References).Length <= 7);
            },
            iter: 1_000);
    }

    private static string Next(UnitStory story) => string.Join(' ', Readiness.NextSteps(story.ProductUnit, story.References));

    private static void Kinds(ReadinessAnswer answer, params string[] kinds) =>
        Assert.Equal(kinds.Order(StringComparer.Ordinal), answer.Reasons.Select(r => r.Kind).Order(StringComparer.Ordinal));

    private static ReadinessAnswer Ask(
        UnitStory story,
        string step,
        double at,
        string person = "P-1",
        string station = "ST-1",
        ImmutableArray<MaterialUse> materials = default,
        ImmutableArray<ToolUse> tools = default,
        ImmutableArray<ComponentUse> components = default) =>
        Readiness.Ask(
            story.ProductUnit,
            story.References,
            new(Some.Step(step), StationCode.Parse(station), PersonCode.Parse(person), materials, tools, components, Some.At(at)));
}
