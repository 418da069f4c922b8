using System.Collections.Immutable;
using Traceability.Domain.Batches;
using Traceability.Domain.Cure;
using Traceability.Domain.Facts;
using Traceability.Domain.Items;
using Traceability.Domain.Judging;
using Traceability.Domain.Lots;
using Traceability.Domain.People;
using Traceability.Domain.Primitives;
using Traceability.Domain.ProductUnits;
using Traceability.Domain.Routings;
using Traceability.Domain.Sites;
using Traceability.Domain.Tools;
using Traceability.Testing.Building;
using Xunit;

namespace Traceability.Domain.Tests.Judging;

/// <summary>What is said of a unit when something that it was judged by can't be read, or judging it fails.</summary>
public sealed class UncertaintyTests
{
    private static readonly UnitKey Lamp = Some.Unit("LAMP", "1");

    private static UnitStory Given => new UnitStory(Lamp)
        .Routing(new RoutingBuilder("LAMP").Step("BOND", s => s.Material("GLUE", "ADH-1")).Step("CLOSE", s => s.After("BOND").Tool("DRIVER", "SCREWDRIVER")))
        .Item("ADH-1").Lot("ADH-1", "L1").Lot("ADH-1", "L2").Tool("SD-1", "SCREWDRIVER")
        .Open()
        .Done("BOND", 0, s => s.Used("ADH-1", "L1"));

    private static UnreadableFact Unreadable => new("lot_sampled", "There is no event of this name.") { OccurredAt = Some.At(-1) };

    [Theory]
    [InlineData("lot/ADH-1/L1", true)]
    [InlineData("lot/ADH-1/L2", false)]
    [InlineData("item/ADH-1", true)]
    [InlineData("routing/LAMP", true)]
    [InlineData("item/LAMP", true)]
    [InlineData("person/P-1", true)]
    [InlineData("person/P-9", false)]
    [InlineData("station/ST-1", true)]
    [InlineData("tool/SD-1", false)]
    public void Only_what_the_unit_was_judged_by_touches_it(string stream, bool touches)
    {
        var judgement = Given.KnowIn(stream, Unreadable).Judgement;

        Assert.Equal(touches, judgement.Status.HasUnreadable);
        Assert.Equal(touches ? stream : string.Empty, string.Join(' ', judgement.Unreadable));
        Assert.Equal(touches ? new[] { stream } : [], judgement.Findings.Where(f => f.Kind == FindingKinds.ReferenceUnreadable).Select(f => f.Rule));
        Assert.DoesNotContain(judgement.Findings, f => f.Kind == FindingKinds.ReferenceUnreadable && f.Policy.CountsAsDefect);
    }

    [Fact]
    public void A_correction_tells_what_an_unreadable_fact_was_and_a_void_does_not()
    {
        var story = Given.KnowIn("lot/ADH-1/L1", Unreadable);
        var id = story.Streams["lot/ADH-1/L1"][^1].Id;
        var corrected = Given.KnowIn("lot/ADH-1/L1", Unreadable)
            .KnowIn("lot/ADH-1/L1", new RecordCorrected(id, new LotReleased(Some.Lot("ADH-1", "L1")) { OccurredAt = Some.At(-1) }, "read from the label", Some.Quality) { OccurredAt = Some.At(1) });
        var voided = Given.KnowIn("lot/ADH-1/L1", Unreadable)
            .KnowIn("lot/ADH-1/L1", new RecordVoided(id, "no idea", Some.Quality) { OccurredAt = Some.At(1) });

        Assert.False(corrected.Judgement.Status.HasUnreadable);
        Assert.True(voided.Judgement.Status.HasUnreadable);
    }

    [Fact]
    public void A_question_that_names_something_unreadable_is_answered_no_with_it_as_the_reason()
    {
        var story = Given.KnowIn("tool/SD-1", Unreadable);
        var question = new ReadinessQuestion(Some.Step("CLOSE"), Some.Station, Some.Person, [], [new(ToolNumber.Parse("SD-1"), null, null)], [], Some.At(5));

        var answer = Readiness.Ask(story.ProductUnit, story.References, question);

        Assert.Equal(ReadinessVerdict.No, answer.Verdict);
        Assert.Contains(answer.Reasons, r => r.Kind == FindingKinds.ReferenceUnreadable && r.Rule == "tool/SD-1");
        Assert.Equal(ReadinessVerdict.Go, Readiness.Ask(Given.ProductUnit, Given.References, question).Verdict);
    }

    [Theory]
    [InlineData("lot")]
    [InlineData("routing")]
    [InlineData("station")]
    public void A_unit_that_cannot_be_judged_keeps_its_lots_and_is_unknown(string broken)
    {
        var story = Given;
        var references = new Broken(story.References, broken);

        var judgement = Judge.Unit(story.ProductUnit, references);

        Assert.True(judgement.Status.HasUnreadable);
        Assert.False(judgement.Status.PassedFirstTime);
        var finding = Assert.Single(judgement.Findings);
        Assert.Equal(FindingKinds.UnitNotJudged, finding.Kind);
        Assert.Contains("broken for a test", finding.Evidence["reason"], StringComparison.Ordinal);
        Assert.Equal(Some.Lot("ADH-1", "L1"), Assert.Single(judgement.Usages).Lot);
        Assert.Empty(judgement.Steps);
        Assert.All(story.Facts.Where(f => f.Fact is StepCompleted), f => Assert.Contains(
            judgement.WorkGaps, g => g is { Kind: WorkGapKind.Step, Reason: GapReason.Unreadable } && g.Record == f.Id && g.Station == f.Fact.Station));
        Assert.All(story.Facts.Select(f => f.Fact).OfType<StepCompleted>().SelectMany(s => s.Measurements), m => Assert.Contains(judgement.Measurements, v => v.Characteristic == m.Characteristic && v.Passed is null));
        var answer = Readiness.Ask(story.ProductUnit, references, new(Some.Step("CLOSE"), Some.Station, Some.Person, [new(Some.Item("ADH-1"), [LotNumber.Parse("L1")], null, null, null)], [], [], Some.At(5)));

        // The question looks at no station: the calendar of its site says nothing about what may start.
        if (broken != "station")
        {
            Assert.Equal((ReadinessVerdict.No, FindingKinds.UnitNotJudged), (answer.Verdict, Assert.Single(answer.Reasons).Kind));
        }

        if (broken == "routing")
        {
            Assert.Empty(Readiness.NextSteps(story.ProductUnit, references));
        }
    }

    [Fact]
    public void A_unit_that_cannot_be_judged_keeps_every_lot_that_it_may_have_come_in()
    {
        var story = new UnitStory(Some.Unit("LAMP", "1")).Open(lot: "R7").Open(at: -900, lot: "R8");
        story.Void(story.LastId);

        var judgement = Judge.Unit(story.ProductUnit, new Broken(story.References, "routing"));

        Assert.True(judgement.Status.HasUnreadable);
        Assert.Equal(["R7", "R8"], judgement.Usages.Select(u => u.Lot.Lot.Value));
        Assert.All(judgement.Usages, u => Assert.True(u is { IsOneOf: true, Step: null } && u.From == DateTimeOffset.MinValue));
        Assert.Equal((GapKind.OwnLot, GapReason.Unreadable), Assert.Single(judgement.Gaps.Select(g => (g.Kind, g.Reason))));
    }

    private sealed class Broken(IReferences inner, string what) : IReferences
    {
        public ImmutableHashSet<string> Unreadable => inner.Unreadable;

        public ItemDefined? FindItem(ItemNumber item) => inner.FindItem(item);

        public Routing? FindRouting(ItemNumber item) => Use("routing", inner.FindRouting(item));

        public Lot? FindLot(LotKey lot) => Use("lot", inner.FindLot(lot));

        public bool NeedsInspection(ItemNumber item) => inner.NeedsInspection(item);

        public bool HasLifeByTemperature(ItemNumber item) => inner.HasLifeByTemperature(item);

        public bool HasLivesByTemperature => inner.HasLivesByTemperature;

        public Batch? FindBatch(BatchKey batch) => inner.FindBatch(batch);

        public ImmutableArray<BatchKey> SplitFrom(BatchKey batch) => inner.SplitFrom(batch);

        public ImmutableArray<UnitTaken> TakenFrom(BatchKey batch) => inner.TakenFrom(batch);

        public Tool? FindTool(ToolNumber tool) => inner.FindTool(tool);

        public Person? FindPerson(PersonCode person) => inner.FindPerson(person);

        public StationDefined? FindStation(StationCode station) => Use("station", inner.FindStation(station));

        public SiteDefined? FindSite(SiteCode site) => inner.FindSite(site);

        public TemperatureDay? FindTemperatures(StationCode place, DateOnly day) => inner.FindTemperatures(place, day);

        public bool IsDefectKnown(Code defect) => inner.IsDefectKnown(defect);

        public bool IsAttachmentKnown(ContentHash attachment) => inner.IsAttachmentKnown(attachment);

        public ProductUnit? FindUnit(UnitKey unit) => inner.FindUnit(unit);

        public bool IsRecorded(UnitKey unit) => inner.IsRecorded(unit);

        public ImmutableArray<Installation> InstallationsOf(UnitKey component) => inner.InstallationsOf(component);

        private T Use<T>(string name, T found) => name == what ? throw new InvalidOperationException("broken for a test") : found;
    }
}
