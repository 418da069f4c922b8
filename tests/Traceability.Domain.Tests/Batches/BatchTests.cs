using CsCheck;
using Traceability.Domain.Batches;
using Traceability.Domain.Facts;
using Traceability.Domain.Judging;
using Traceability.Domain.Primitives;
using Traceability.Domain.ProductUnits;
using Traceability.Domain.Tests.Judging;
using Traceability.Testing.Building;
using Xunit;

namespace Traceability.Domain.Tests.Batches;

/// <summary>Housings soak in an oven as a batch; each gets its serial when a bearing is dropped into it. All figures are invented.</summary>
public sealed class BatchTests
{
    private static readonly UnitKey Housing = Some.Unit("HOUSING", "1");
    private static readonly BatchKey Key = new(Housing.Item, BatchNumber.Parse("B1"));
    private static readonly ClockReading Off = new(TimeSpan.Zero, TimeSpan.FromSeconds(30), Doubtful: false);

    // Soak 20 to 60 min, at most 1 min from the oven to the start of the drop-in, at least 15 min of cool-down before the check.
    private static UnitStory Given() => new UnitStory(Housing)
        .Routing(new RoutingBuilder("HOUSING")
            .Step("SOAK", s => s.Tool("OVEN", "OVEN").Material("GREASE", "GR"))
            .Step("DROP", s => s.After("SOAK"))
            .Step("CHECK", s => s.After("DROP"))
            .Interval("SOAK", "SOAK.mark:IN", "SOAK.mark:OUT", 20, 60)
            .Interval("TRANSFER", "SOAK.mark:OUT", "DROP.started", maxMinutes: 1)
            .Interval("COOL", "DROP.completed", "CHECK.started", minMinutes: 15))
        .Item("GR").Lot("GR", "G1").Tool("OV-1", "OVEN")
        .Know(new BatchFormed(Key, 3, null) { OccurredAt = Some.At(-60), Clock = Some.RightClock });

    private static BatchStepCompleted Soaked(double inAt, double outAt, string? oven = "OV-1", ClockReading? clock = null) => new(
        Key,
        Some.Step("SOAK"),
        Some.At(inAt),
        IsRework: false,
        [new(Some.Code("IN"), Some.At(inAt)), new(Some.Code("OUT"), Some.At(outAt))],
        [new(Some.Item("GR"), [LotNumber.Parse("G1")], null, null, null)],
        oven is null ? [] : [new(ToolNumber.Parse(oven), null, null)],
        [],
        [],
        null)
    {
        OccurredAt = Some.At(outAt), Station = Some.Station, Person = Some.Person, Clock = clock ?? Some.RightClock,
    };

    private static UnitStory Dropped(UnitStory story, double openedAt, double startedAt) => story
        .Tell(new UnitOpened(Housing, null, [], null) { Batch = Key.Batch, OccurredAt = Some.At(openedAt), Station = Some.Station, Clock = Some.RightClock })
        .Done("DROP", startedAt + 1, s => s.Started(Some.At(startedAt)));

    [Theory]
    [InlineData(30, 0.5, 16)]
    [InlineData(19.9, 0.5, 16, "interval-too-short SOAK", "prerequisite-not-passed SOAK")]
    [InlineData(60.1, 0.5, 16, "interval-too-long SOAK", "prerequisite-not-passed SOAK")]
    [InlineData(30, 1.1, 16, "interval-too-long TRANSFER", "prerequisite-not-passed DROP")]
    [InlineData(30, 0.5, 14.9, "interval-too-short COOL")]
    public void The_chain_from_the_oven_to_the_cooled_unit_is_judged_over_the_serial(double soak, double transfer, double cool, params string[] findings)
    {
        var story = Dropped(Given().Know(Soaked(0, soak)), soak, soak + transfer);
        story.Done("CHECK", soak + transfer + 1 + cool + 5, s => s.Started(Some.At(soak + transfer + 1 + cool)));
        story.ShouldFind(findings);
    }

    [Fact]
    public void The_clock_of_the_batchs_terminal_leaves_the_transfer_open()
    {
        UnitStory Story(double transfer) => Dropped(Given().Know(Soaked(0, 30, clock: Off)), 30, 30 + transfer);
        Story(0.4).ShouldFind();
        Story(1.2).ShouldFind("interval-undetermined TRANSFER");
        Story(1.6).ShouldFind("interval-too-long TRANSFER");
    }

    [Fact]
    public void The_batchs_step_is_an_attempt_of_the_unit_and_its_oven_and_grease_are_the_units()
    {
        var story = Given().Know(Soaked(0, 30));
        var record = story.Streams[StreamNames.Of(Key)][^1].Id;
        var judgement = Dropped(story, 30, 30.5).ShouldFind();
        Assert.Equal(["SOAK 1", "DROP 1"], judgement.Steps.Select(s => $"{s.Step} {s.Attempt}"));
        Assert.Equal((record, ToolNumber.Parse("OV-1")), (judgement.ToolUsages[0].Record, judgement.ToolUsages[0].Tool));
        Assert.Equal((record, Some.Lot("GR", "G1")), (judgement.Usages[0].Record, judgement.Usages[0].Lot));
        Assert.Empty(judgement.Gaps);
    }

    [Fact]
    public void What_is_missing_in_the_batchs_record_is_found_on_the_unit() =>
        Dropped(Given().Know(Soaked(0, 30, oven: null)), 30, 30.5).ShouldFind("tool-not-recorded OVEN");

    [Fact]
    public void Without_a_record_of_the_soak_the_order_is_broken_and_the_grease_a_gap_since_the_batch_was_formed()
    {
        var judgement = Dropped(Given(), 30, 30.5).ShouldFind("prerequisite-not-passed SOAK", "interval-start-not-recorded TRANSFER");
        Assert.Equal((GapReason.StepNotRecorded, Some.At(-60)), (judgement.Gaps[0].Reason, judgement.Gaps[0].From));
    }

    [Fact]
    public void What_happened_to_the_batch_after_the_unit_was_taken_out_is_not_the_units()
    {
        var judgement = Dropped(Given().Know(Soaked(0, 30)).Know(Soaked(100, 130)), 30, 30.5).ShouldFind();
        Assert.Single(judgement.Steps, s => s.Step == Some.Step("SOAK"));
    }

    [Fact]
    public void A_record_that_may_have_been_before_counts()
    {
        var late = Soaked(0, 30.3, clock: Off);
        Assert.Equal(2, Dropped(Given().Know(late), 30, 30.5).Judgement.Steps.Length);
        Assert.Single(Dropped(Given().Know(late with { Clock = Some.RightClock }), 30, 30.5).Judgement.Steps);
    }

    [Fact]
    public void A_correction_and_a_void_of_the_batchs_record_count()
    {
        var story = Given().Know(Soaked(0, 30));
        var stream = StreamNames.Of(Key);
        var record = story.Streams[stream][^1].Id;
        story = Dropped(story, 30, 30.5);
        story.KnowIn(stream, new RecordCorrected(record, Soaked(12, 30), "misread", Some.Quality) { OccurredAt = Some.At(500) });
        story.ShouldFind("interval-too-short SOAK", "prerequisite-not-passed SOAK");
        story.KnowIn(stream, new RecordVoided(record, "other batch", Some.Quality) { OccurredAt = Some.At(600) });
        var judgement = story.ShouldFind("prerequisite-not-passed SOAK", "interval-start-not-recorded TRANSFER");
        Assert.Equal(GapReason.Voided, judgement.Gaps[0].Reason);
    }

    [Fact]
    public void A_record_of_the_batch_that_cannot_be_read_leaves_everything_possible_that_the_routing_requires()
    {
        var story = Dropped(Given().Know(Soaked(0, 30)), 30, 30.5).KnowIn(StreamNames.Of(Key), new UnreadableFact("batch_step_completed", "unknown") { OccurredAt = Some.At(5) });
        var judgement = story.ShouldFind("reference-unreadable batch/HOUSING/B1");
        Assert.True(judgement.Status.HasUnreadable);
        Assert.Contains(judgement.Gaps, g => g.Reason == GapReason.Unreadable && g.From == Some.At(-60));
    }

    [Fact]
    public void The_lot_that_the_batch_came_in_is_the_units()
    {
        var story = Given().Lot("HOUSING", "H7");
        story.KnowIn(StreamNames.Of(Key), new RecordCorrected(story.Streams[StreamNames.Of(Key)][0].Id, new BatchFormed(Key, 3, LotNumber.Parse("H7")) { OccurredAt = Some.At(-60), Clock = Some.RightClock }, "forgotten", Some.Quality) { OccurredAt = Some.At(1) });
        Assert.Contains(Dropped(story.Know(Soaked(0, 30)), 30, 30.5).ShouldFind().Usages, u => u.Step is null && u.Lot == Some.Lot("HOUSING", "H7"));
    }

    [Theory]
    [InlineData("B1", "batch-already-formed", "/batch")]
    [InlineData("B2", null, null)]
    public void A_batch_is_formed_once(string number, string? code, string? pointer)
    {
        var formed = new BatchFormed(new(Housing.Item, BatchNumber.Parse(number)), 3, null) { OccurredAt = Some.At(0) };
        var refusal = DefinitionDecisions.Check(formed, Given().Item("HOUSING").References);
        Assert.Equal((code, pointer), (refusal?.Code, refusal?.Faults[0].Pointer));
    }

    [Fact]
    public void What_names_a_batch_that_nobody_formed_is_refused()
    {
        var references = Given().Item("HOUSING").References;
        var other = new BatchKey(Housing.Item, BatchNumber.Parse("B9"));
        Assert.Equal("batch-unknown", DefinitionDecisions.Check(new BatchStepStarted(other, Some.Step("SOAK")) { OccurredAt = Some.At(0) }, references)?.Code);
        Assert.Equal("batch-unknown", UnitDecisions.Check(ProductUnit.Unknown(Housing), new UnitOpened(Housing, null, [], null) { Batch = other.Batch, OccurredAt = Some.At(0) }, references)?.Code);
        Assert.Null(UnitDecisions.Check(ProductUnit.Unknown(Housing), new UnitOpened(Housing, null, [], null) { Batch = Key.Batch, OccurredAt = Some.At(0) }, references));
    }

    // The unit that came out of a batch against one that was there from the beginning, with the batch's records as its own.
    [Fact]
    public void A_unit_from_a_batch_is_judged_as_if_the_batchs_records_had_been_its_own() => Gen.Select(
        Histories.Fact.Array[0, 8],
        Histories.Fact.Array[0, 6],
        Gen.Select(Gen.Int[0, 12], Gen.Int[0, 7], Gen.Bool).Array[0, 3]).Sample(
        (before, after, changes) =>
        {
            var key = new BatchKey(Histories.Lamp.Item, BatchNumber.Parse("B1"));
            StepCompleted[] done = [.. before.OfType<StepCompleted>().Select(s => s with { Unit = Histories.Lamp, Components = [], Defects = [], Supervisor = null })];
            Fact[] own = [.. after.Where(f => f is not UnitOpened).Select(f => f with { OccurredAt = f.OccurredAt.AddMinutes(60) })];
            var ownFacts = own.Select((f, i) => new RecordedFact(Some.Id(200 + i), f, f.OccurredAt));
            RecordedFact[] records = [.. done.Select((s, i) => new RecordedFact(Some.Id(i + 1), s, s.OccurredAt))];
            RecordedFact[] corrections = [.. changes.Where(_ => done.Length > 0).Select((c, i) => new RecordedFact(
                Some.Id(100 + i),
                c.Item3 ? new RecordVoided(Some.Id(c.Item1 + 1), "wrong", Some.Quality) { OccurredAt = Some.At(90 + i) }
                    : new RecordCorrected(Some.Id((c.Item1 % done.Length) + 1), done[c.Item2 % done.Length], "misread", Some.Quality) { OccurredAt = Some.At(90 + i) },
                Some.At(90 + i)))];

            RecordedFact[] batched = [new(Some.Id(99), new BatchFormed(key, 1, null) { OccurredAt = Some.At(-60), Clock = Some.RightClock }, Some.At(-60)), .. records.Concat(corrections).Select(r => r with { Fact = AsBatch(key, r.Fact) })];
            var references = Histories.References.With(StreamNames.Of(key), Batch.Of(key, [.. batched]));
            var opening = new UnitOpened(Histories.Lamp, VariantCode.Parse("P"), [], null) { Station = Some.Station, Clock = Some.RightClock, OccurredAt = Some.At(-60) };
            var fromBatch = Judge.Unit(ProductUnit.Of(Histories.Lamp, [new(Some.Id(98), opening with { Batch = key.Batch, OccurredAt = Some.At(45) }, Some.At(45)), .. ownFacts]), references);
            var alone = Judge.Unit(ProductUnit.Of(Histories.Lamp, [new(Some.Id(98), opening, Some.At(-60)), .. records, .. corrections, .. ownFacts]), Histories.References);

            // Only when it was opened differs, and what is told by that alone.
            Assert.Equal(
                Canonical.Text(alone with { Status = alone.Status with { OpenedAt = null, Since = null } }),
                Canonical.Text(fromBatch with { Status = fromBatch.Status with { OpenedAt = null, Since = null } }));
        },
        iter: 1_000);

    private static Fact AsBatch(BatchKey key, Fact fact) => fact switch
    {
        StepCompleted s => new BatchStepCompleted(key, s.Step, s.StartedAt, s.IsRework, s.Marks, s.Materials, s.Tools, s.Measurements, s.Checks, s.Note)
        {
            OccurredAt = s.OccurredAt, Clock = s.Clock, Station = s.Station, Person = s.Person, SentBy = s.SentBy,
        },
        RecordCorrected c => c with { Replacement = AsBatch(key, c.Replacement) },
        _ => fact,
    };
}
