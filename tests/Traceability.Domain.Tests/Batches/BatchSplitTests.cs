using Traceability.Domain.Batches;
using Traceability.Domain.Facts;
using Traceability.Domain.Judging;
using Traceability.Domain.Primitives;
using Traceability.Domain.ProductUnits;
using Traceability.Domain.Tests.Judging;
using Traceability.Testing.Building;
using Xunit;

namespace Traceability.Domain.Tests.Batches;

/// <summary>A batch is split into two, and more are taken out of one than there were. All figures are invented.</summary>
public sealed class BatchSplitTests
{
    private static readonly UnitKey Housing = Some.Unit("HOUSING", "1");

    private static BatchKey Key(string number) => new(Housing.Item, BatchNumber.Parse(number));

    // Cleaned, then soaked in an oven for 20 to 60 min.
    private static UnitStory Given(int count = 10) => new UnitStory(Housing)
        .Routing(new RoutingBuilder("HOUSING")
            .Step("CLEAN", s => s.Material("SOLVENT", "SV"))
            .Step("SOAK", s => s.After("CLEAN").Tool("OVEN", "OVEN"))
            .Step("DROP", s => s.After("SOAK"))
            .Interval("SOAK", "SOAK.mark:IN", "SOAK.mark:OUT", 20, 60))
        .Item("SV").Lot("SV", "S1").Lot("SV", "S2").Tool("OV-1", "OVEN").Lot("HOUSING", "H7")
        .Know(new BatchFormed(Key("B1"), count, LotNumber.Parse("H7")) { OccurredAt = Some.At(-60), Clock = Some.RightClock });

    private static BatchSplit Split(string into, string from, int count, double at, ClockReading? clock = null) =>
        new(Key(into), BatchNumber.Parse(from), count) { OccurredAt = Some.At(at), Clock = clock ?? Some.RightClock };

    private static BatchStepCompleted Cleaned(string batch, double at, string lot = "S1") => new(
        Key(batch), Some.Step("CLEAN"), Some.At(at - 1), IsRework: false, [], [new(Some.Item("SV"), [LotNumber.Parse(lot)], null, null, null)], [], [], [], null)
    {
        OccurredAt = Some.At(at), Station = Some.Station, Person = Some.Person, Clock = Some.RightClock,
    };

    private static BatchStepCompleted Soaked(string batch, double inAt, double outAt) => new(
        Key(batch), Some.Step("SOAK"), Some.At(inAt), IsRework: false, [new(Some.Code("IN"), Some.At(inAt)), new(Some.Code("OUT"), Some.At(outAt))], [], [new(ToolNumber.Parse("OV-1"), null, null)], [], [], null)
    {
        OccurredAt = Some.At(outAt), Station = Some.Station, Person = Some.Person, Clock = Some.RightClock,
    };

    private static UnitOpened Opening(UnitKey unit, string batch, double at, ClockReading? clock = null) =>
        new(unit, null, [], null) { Batch = BatchNumber.Parse(batch), OccurredAt = Some.At(at), Station = Some.Station, Clock = clock ?? Some.RightClock };

    private static UnitStory Taken(UnitStory story, string batch, double at, ClockReading? clock = null) => story.Tell(Opening(Housing, batch, at, clock));

    private static UnitStory Others(UnitStory story, string batch, params double[] at)
    {
        for (var i = 0; i < at.Length; i++)
        {
            story.Know(Opening(Some.Unit("HOUSING", $"{batch}{story.Streams.Count}"), batch, at[i]));
        }

        return story;
    }

    private static BatchEnded Ended(string batch, int? scrapped, double at) => new(Key(batch), scrapped) { OccurredAt = Some.At(at), Clock = Some.RightClock };

    [Fact]
    public void Units_of_both_batches_have_what_was_done_before_the_split_and_each_what_was_done_to_it_after()
    {
        UnitStory Story(string batch) => Taken(Given().Know(Cleaned("B1", 0)).Know(Split("B2", "B1", 4, 10)).Know(Soaked("B1", 20, 50)).Know(Soaked("B2", 30, 45)), batch, 60);

        var first = Story("B1").ShouldFind();
        Assert.Equal(["CLEAN 1", "SOAK 1"], first.Steps.Select(s => $"{s.Step} {s.Attempt}"));
        var second = Story("B2").ShouldFind("interval-too-short SOAK");
        Assert.Equal(["CLEAN 1", "SOAK 1"], second.Steps.Select(s => $"{s.Step} {s.Attempt}"));
        Assert.Equal((Some.At(45), Some.At(50)), (second.Steps[1].CompletedAt, first.Steps[1].CompletedAt));

        // The solvent and the lot that the parts came in are both batches'.
        Assert.All([first, second], j => Assert.Equal([Some.Lot("HOUSING", "H7"), Some.Lot("SV", "S1")], j.Usages.Select(u => u.Lot)));
        Assert.All([first, second], j => Assert.Empty(j.Gaps));
    }

    [Fact]
    public void What_was_done_to_the_first_after_the_split_is_not_the_seconds_unless_the_clocks_leave_it_open()
    {
        UnitStory Story(ClockReading clock) => Taken(Given().Know(Split("B2", "B1", 4, 10, clock)).Know(Cleaned("B1", 10.4)), "B2", 60);
        Assert.Empty(Story(Some.RightClock).Judgement.Steps);
        Assert.Single(Story(new(TimeSpan.Zero, TimeSpan.FromSeconds(30), Doubtful: false)).Judgement.Steps);
    }

    [Fact]
    public void A_missing_record_is_a_gap_since_the_first_was_formed_whichever_batch_it_was()
    {
        var gap = Assert.Single(Taken(Given().Know(Split("B2", "B1", 4, 10)).Know(Soaked("B2", 30, 55)), "B2", 60).Judgement.Gaps);
        Assert.Equal((GapReason.StepNotRecorded, Some.At(-60)), (gap.Reason, gap.From));
    }

    [Fact]
    public void A_split_of_a_split_goes_back_to_the_first()
    {
        var story = Taken(
            Given().Know(Cleaned("B1", 0)).Know(Split("B2", "B1", 6, 10)).Know(Soaked("B2", 12, 40)).Know(Split("B3", "B2", 2, 41)).Know(Soaked("B1", 12, 80)), "B3", 90);
        Assert.Equal([Some.At(0), Some.At(40)], story.ShouldFind().Steps.Select(s => s.CompletedAt));
    }

    [Fact]
    public void A_split_that_is_void_takes_the_past_with_it_and_everything_required_is_possible_since_ever()
    {
        var story = Taken(Given().Know(Cleaned("B1", 0)).Know(Split("B2", "B1", 4, 10)).Know(Soaked("B2", 20, 50)), "B2", 60);
        story.ShouldFind();
        story.KnowIn(StreamNames.Of(Key("B2")), new RecordVoided(story.Streams[StreamNames.Of(Key("B2"))][0].Id, "another tray", Some.Quality) { OccurredAt = Some.At(500) });
        Assert.Equal(DateTimeOffset.MinValue, Assert.Single(story.ShouldFind("prerequisite-not-passed CLEAN").Gaps).From);
    }

    [Fact]
    public void A_split_that_is_corrected_to_a_later_time_brings_more_along()
    {
        var story = Taken(Given().Know(Split("B2", "B1", 4, 10)).Know(Cleaned("B1", 15)), "B2", 60);
        Assert.Empty(story.Judgement.Steps);
        story.KnowIn(StreamNames.Of(Key("B2")), new RecordCorrected(story.Streams[StreamNames.Of(Key("B2"))][0].Id, Split("B2", "B1", 4, 16), "misread", Some.Quality) { OccurredAt = Some.At(500) });
        Assert.Single(story.ShouldFind().Steps);
    }

    [Fact]
    public void A_record_of_the_first_that_cannot_be_read_leaves_everything_possible_on_the_seconds_units()
    {
        var story = Taken(Given().Know(Cleaned("B1", 0)).Know(Split("B2", "B1", 4, 10)), "B2", 60).KnowIn(StreamNames.Of(Key("B1")), new UnreadableFact("batch_step_completed", "unknown") { OccurredAt = Some.At(5) });
        var judgement = story.ShouldFind("reference-unreadable batch/HOUSING/B1");
        Assert.True(judgement.Status.HasUnreadable);
        Assert.Contains(judgement.Gaps, g => g.Reason == GapReason.Unreadable && g.From == Some.At(-60));
    }

    [Fact]
    public void Batches_that_were_split_off_each_other_end()
    {
        var story = Given().Know(Split("B2", "B1", 4, 10));
        story.KnowIn(StreamNames.Of(Key("B1")), new RecordCorrected(story.Streams[StreamNames.Of(Key("B1"))][0].Id, Split("B1", "B2", 4, 5), "turned round", Some.Quality) { OccurredAt = Some.At(20) });
        Assert.NotEqual(default, Taken(story.Know(Cleaned("B1", 0)), "B2", 60).Judgement.Steps);
    }

    // Every state of a batch against everything that can be recorded of it: null is recorded.
    [Theory]
    [InlineData("unknown", "batch-formed", null)]
    [InlineData("unknown", "batch-split", null)]
    [InlineData("unknown", "batch-split as the source", "batch-unknown /source")]
    [InlineData("unknown", "batch-step-started", "batch-unknown /batch")]
    [InlineData("unknown", "batch-step-completed", "batch-unknown /batch")]
    [InlineData("unknown", "batch-ended", "batch-unknown /batch")]
    [InlineData("unknown", "unit-opened", "batch-unknown /batch")]
    [InlineData("formed", "batch-formed", "batch-already-formed /batch")]
    [InlineData("formed", "batch-split", "batch-already-formed /batch")]
    [InlineData("formed", "batch-split as the source", null)]
    [InlineData("formed", "batch-step-started", null)]
    [InlineData("formed", "batch-step-completed", null)]
    [InlineData("formed", "batch-ended", null)]
    [InlineData("formed", "unit-opened", null)]
    [InlineData("split off", "batch-formed", "batch-already-formed /batch")]
    [InlineData("split off", "batch-split", "batch-already-formed /batch")]
    [InlineData("split off", "batch-split as the source", null)]
    [InlineData("split off", "batch-step-started", null)]
    [InlineData("split off", "batch-step-completed", null)]
    [InlineData("split off", "batch-ended", null)]
    [InlineData("split off", "unit-opened", null)]
    [InlineData("ended", "batch-formed", "batch-already-formed /batch")]
    [InlineData("ended", "batch-split", "batch-already-formed /batch")]
    [InlineData("ended", "batch-split as the source", null)]
    [InlineData("ended", "batch-step-started", null)]
    [InlineData("ended", "batch-step-completed", null)]
    [InlineData("ended", "batch-ended", null)]
    [InlineData("ended", "unit-opened", null, "batch-overdrawn X")]
    public void What_can_be_recorded_of_a_batch_in_each_state(string state, string command, string? refusal, params string[] findings)
    {
        var story = Given().Item("HOUSING");
        story = state switch
        {
            "formed" => story.Know(new BatchFormed(Key("X"), 3, null) { OccurredAt = Some.At(0) }),
            "split off" => story.Know(Split("X", "B1", 3, 0)),
            "ended" => story.Know(new BatchFormed(Key("X"), 3, null) { OccurredAt = Some.At(0) }).Know(Ended("X", null, 50)),
            _ => story,
        };
        Fact fact = command switch
        {
            "batch-formed" => new BatchFormed(Key("X"), 3, null) { OccurredAt = Some.At(60) },
            "batch-split" => Split("X", "B1", 3, 60),
            "batch-split as the source" => Split("Y", "X", 1, 60),
            "batch-step-started" => new BatchStepStarted(Key("X"), Some.Step("SOAK")) { OccurredAt = Some.At(60) },
            "batch-step-completed" => Soaked("X", 20, 60),
            "batch-ended" => Ended("X", null, 60),
            _ => Opening(Housing, "X", 60),
        };

        // Whether the station is known is another question.
        fact = fact with { Station = null };
        var refused = fact is UnitOpened opened
            ? UnitDecisions.Check(ProductUnit.Unknown(Housing), opened, story.References)
            : DefinitionDecisions.Check(fact, story.References);
        Assert.Equal(refusal, refused is null ? null : $"{refused.Code} {refused.Faults[0].Pointer}");
        if (fact is UnitOpened && refusal is null)
        {
            Taken(story, "X", 60).ShouldFind(findings);
        }
    }

    [Theory]
    [InlineData(3, null)]
    [InlineData(2, "batch-overdrawn B1")]
    public void The_unit_that_was_taken_beyond_the_count_has_a_finding_and_those_before_have_none(int count, string? finding)
    {
        Taken(Others(Given(count), "B1", 10, 20), "B1", 30).ShouldFind(finding is null ? [] : [finding]);
        Taken(Others(Given(count), "B1", 10, 40), "B1", 30).ShouldFind();
        Taken(Others(Given(count), "B1", 50, 40), "B1", 30).ShouldFind();
    }

    [Fact]
    public void Where_the_clocks_leave_the_order_open_every_unit_that_may_be_beyond_has_it()
    {
        var off = new ClockReading(TimeSpan.Zero, TimeSpan.FromMinutes(1), Doubtful: false);
        Taken(Others(Given(2), "B1", 10, 30.5), "B1", 30, off).ShouldFind("batch-overdrawn B1");
        Taken(Others(Given(2), "B1", 10, 31.5), "B1", 30, off).ShouldFind();
        Taken(Others(Given(2), "B1", 10, 30), "B1", 30).ShouldFind("batch-overdrawn B1");
    }

    [Fact]
    public void Parts_that_were_thrown_away_or_split_off_count_first_whenever_that_was()
    {
        Taken(Others(Given(3), "B1", 10), "B1", 20).ShouldFind();
        Taken(Others(Given(3), "B1", 10).Know(Ended("B1", 2, 100)), "B1", 20).ShouldFind("batch-overdrawn B1");
        Taken(Others(Given(3), "B1", 10).Know(Split("B2", "B1", 2, 100)), "B1", 20).ShouldFind("batch-overdrawn B1");
        Taken(Others(Given(3), "B1", 30).Know(Split("B2", "B1", 2, 100)), "B1", 20).ShouldFind();
    }

    [Fact]
    public void Of_more_that_were_split_off_than_there_were_the_later_split_has_the_fewer()
    {
        UnitStory Both() => Given(5).Know(Split("B2", "B1", 3, 10)).Know(Split("B3", "B1", 4, 20));
        Taken(Others(Both(), "B2", 30, 40), "B2", 50).ShouldFind();
        Taken(Others(Both(), "B3", 30), "B3", 50).ShouldFind();
        var finding = Taken(Others(Both(), "B3", 30, 40), "B3", 50).ShouldFind("batch-overdrawn B3").Findings[0];
        Assert.Equal(("4", "2", "2"), (finding.Evidence["count"], finding.Evidence["for-units"], finding.Evidence["taken-before-at-most"]));
        Assert.Equal((false, Domain.Routings.Enforcement.Stop), (finding.Policy.CountsAsDefect, finding.Policy.Enforcement));
    }

    [Fact]
    public void A_corrected_count_and_an_opening_that_is_void_or_of_another_batch_judge_it_again()
    {
        var story = Taken(Others(Given(1), "B1", 10), "B1", 20);
        story.ShouldFind("batch-overdrawn B1");
        var other = story.Streams.Single(s => s.Key.StartsWith("unit/", StringComparison.Ordinal));
        story.KnowIn(other.Key, new RecordVoided(other.Value[0].Id, "mistyped", Some.Quality) { OccurredAt = Some.At(100) }).ShouldFind();

        var counted = Taken(Others(Given(1), "B1", 10), "B1", 20);
        counted.KnowIn(StreamNames.Of(Key("B1")), new RecordCorrected(counted.Streams[StreamNames.Of(Key("B1"))][0].Id, new BatchFormed(Key("B1"), 2, null) { OccurredAt = Some.At(-60), Clock = Some.RightClock }, "counted anew", Some.Quality) { OccurredAt = Some.At(100) });
        counted.ShouldFind();
    }

    [Fact]
    public void Of_a_batch_whose_count_is_not_known_nothing_can_be_taken_beyond_it()
    {
        var story = Taken(Others(Given(1), "B1", 10), "B1", 20);
        story.KnowIn(StreamNames.Of(Key("B1")), new RecordVoided(story.Streams[StreamNames.Of(Key("B1"))][0].Id, "wrong", Some.Quality) { OccurredAt = Some.At(100) });
        story.ShouldFind();
    }
}
