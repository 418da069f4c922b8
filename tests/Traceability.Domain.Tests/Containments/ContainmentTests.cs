using Traceability.Domain.Containments;
using Traceability.Domain.Facts;
using Traceability.Domain.Primitives;
using Traceability.Domain.Scope;
using Traceability.Testing.Building;
using Xunit;
using static Traceability.Domain.Tests.Containments.CaseStory;

namespace Traceability.Domain.Tests.Containments;

public sealed class ContainmentTests
{
    [Theory]
    [InlineData(ContainmentState.Unknown, "open ok|find containment-unknown|follow-up containment-unknown|acknowledge containment-unknown|close containment-unknown|reopen containment-unknown")]
    [InlineData(ContainmentState.Open, "open containment-already-opened|find ok|follow-up ok|acknowledge ok|close ok|reopen containment-not-closed")]
    [InlineData(ContainmentState.Closed, "open containment-already-opened|find ok|follow-up containment-closed|acknowledge containment-closed|close containment-closed|reopen ok")]
    public void Every_cell_of_the_life_of_a_case_is_as_told_by_the_table_and_by_the_decision(ContainmentState state, string row)
    {
        var cells = row.Split('|').Select(c => c.Split(' ')).ToArray();
        Assert.Equal(Enum.GetValues<ContainmentAct>().Length, cells.Length);
        Assert.All(cells, cell =>
        {
            var act = Enum.Parse<ContainmentAct>(cell[0].Replace("-", string.Empty, StringComparison.Ordinal), ignoreCase: true);
            var code = cell[1] == "ok" ? null : cell[1];
            Assert.Equal(code, ContainmentDecisions.Of(state, act));
            var story = In(state);
            Assert.Equal(state, story.Case.State);
            var fact = Does(act);
            Assert.Equal(act, ContainmentDecisions.ActOf(fact));
            Assert.Equal(code, story.Refused((Fact)fact)?.Code);
        });
    }

    [Fact]
    public void A_case_is_closed_only_when_every_member_has_a_final_outcome()
    {
        var story = Frozen("1", "2", "3").Tell(FollowedUp(5, FollowUpOutcome.InspectedGood, "1")).Tell(FollowedUp(6, FollowUpOutcome.ConsigneeNotified, "2"));
        var refusal = story.Refused(Closed(7));
        Assert.Equal("containment-members-open", refusal?.Code);
        Assert.Equal(
            ["LAMP/2 has no final outcome: the last one is consignee notified, answer awaited.", "LAMP/3 has no final outcome."],
            refusal!.Faults.Select(f => f.Detail));
        story.Tell(FollowedUp(8, FollowUpOutcome.Replaced, "2")).Tell(FollowedUp(9, FollowUpOutcome.Scrapped, "3")).Tell(Closed(10));
        Assert.Equal(ContainmentState.Closed, story.Case.State);
    }

    [Fact]
    public void A_case_whose_members_are_not_all_recorded_is_not_closed() =>
        Assert.Equal("containment-not-scoped", new CaseStory().Tell(Opened(0)).Refused(Closed(1))?.Code);

    [Fact]
    public void A_refusal_names_twenty_members_and_counts_the_rest()
    {
        var refusal = Frozen([.. Enumerable.Range(100, 25).Select(i => $"{i}")]).Refused(Closed(5));
        Assert.Equal(21, refusal!.Faults.Length);
        Assert.Equal("5 more members have no final outcome.", refusal.Faults[^1].Detail);
    }

    [Fact]
    public void What_a_later_run_finds_came_late_until_a_person_takes_note()
    {
        var story = Frozen("1").Tell(FollowedUp(2, FollowUpOutcome.Reworked, "1")).Run(2, 3, ["2"]);
        Assert.True(story.Member("2") is { IsLate: true, IsAcknowledged: false, Run: 2 });
        Assert.False(story.Member("1").IsLate);
        Assert.Equal(1, story.Case.LateCount);
        story.Tell(FollowedUp(4, FollowUpOutcome.Reworked, "2"));
        Assert.Equal("containment-late-not-acknowledged", story.Refused(Closed(5))?.Code);
        story.Tell(Acknowledged(6)).Tell(Closed(7));
        Assert.Equal((ContainmentState.Closed, 0), (story.Case.State, story.Case.LateCount));
    }

    [Fact]
    public void A_member_that_is_found_after_the_closing_opens_the_case_again()
    {
        var story = Frozen("1").Tell(FollowedUp(2, FollowUpOutcome.Reworked, "1")).Tell(Closed(3)).Run(2, 4, ["2"]);
        Assert.Equal((ContainmentState.Open, 1), (story.Case.State, story.Case.OpenCount));
    }

    [Fact]
    public void A_run_that_finds_only_another_verdict_of_a_settled_member_leaves_the_case_closed()
    {
        var story = Frozen("1").Tell(FollowedUp(2, FollowUpOutcome.Reworked, "1")).Tell(Closed(3)).Run(2, 4, Reached("1", ScopeVerdict.Possible));
        Assert.Equal((ContainmentState.Closed, ScopeVerdict.Possible), (story.Case.State, story.Member("1").Verdict));
    }

    [Fact]
    public void A_void_of_an_outcome_takes_the_ground_from_the_closing()
    {
        var story = Frozen("1").Tell(FollowedUp(2, FollowUpOutcome.Reworked, "1"));
        var outcome = story.LastId;
        story.Tell(Closed(3)).Void(outcome, 4);
        Assert.Equal((ContainmentState.Open, 1), (story.Case.State, story.Case.Words[^1].Lacking));

        // Recording another outcome closes nothing by itself: a person does.
        story.Tell(FollowedUp(5, FollowUpOutcome.Scrapped, "1"));
        Assert.Equal(ContainmentState.Open, story.Case.State);
        Assert.Equal(ContainmentState.Closed, story.Tell(Closed(6)).Case.State);
    }

    [Fact]
    public void A_void_of_a_closing_opens_the_case_and_a_void_of_the_reopening_closes_it()
    {
        var story = Frozen("1").Tell(FollowedUp(2, FollowUpOutcome.Reworked, "1")).Tell(Closed(3));
        var closing = story.LastId;
        story.Tell(Reopened(4));
        var reopening = story.LastId;
        Assert.Equal(ContainmentState.Open, story.Case.State);
        Assert.Equal(ContainmentState.Closed, story.Void(reopening, 5).Case.State);
        Assert.Equal(ContainmentState.Open, story.Void(closing, 6).Case.State);
    }

    [Fact]
    public void Of_two_outcomes_the_one_that_was_done_last_counts_in_whatever_order_they_arrive()
    {
        var (early, late) = (FollowedUp(5, FollowUpOutcome.ConsigneeNotified, "1"), FollowedUp(9, FollowUpOutcome.Replaced, "1"));
        Assert.Equal(FollowUpOutcome.Replaced, Frozen("1").Tell(early).Tell(late).Member("1").Outcome?.Outcome);
        var member = Frozen("1").Tell(late).Tell(early).Member("1");
        Assert.Equal((FollowUpOutcome.Replaced, Some.At(5)), (member.Outcome!.Outcome, member.FirstFollowedUpAt));
    }

    [Fact]
    public void A_correction_of_an_outcome_counts_from_the_record_that_it_corrects()
    {
        var story = Frozen("1").Tell(FollowedUp(2, FollowUpOutcome.Returned, "1"));
        story.Tell(new RecordCorrected(story.LastId, FollowedUp(2, FollowUpOutcome.Scrapped, "1"), "wrong line", PersonCode.Parse("P-9")) { OccurredAt = Some.At(3) });
        Assert.True(story.Member("1").HasFinalOutcome);
    }

    [Fact]
    public void A_follow_up_of_what_is_no_member_is_refused_with_its_place()
    {
        var refusal = Frozen("1").Refused(FollowedUp(2, FollowUpOutcome.Reworked, "1", "9"));
        Assert.Equal(("unit-not-contained", "/units/1"), (refusal!.Code, refusal.Faults.Single().Pointer));
    }

    [Fact]
    public void What_the_service_found_is_not_voided()
    {
        var story = new CaseStory().Tell(Opened(0));
        var opening = story.LastId;
        Assert.Equal("record-not-correctable", story.Refused(new RecordVoided(opening, "r", PersonCode.Parse("P-9")) { OccurredAt = Some.At(1) })?.Code);
    }

    [Fact]
    public void A_member_that_is_no_longer_reached_stays_a_member_with_what_reached_it()
    {
        var story = Frozen("1", "2");
        var difference = ContainmentDifference.Of(story.Case, [Reached("2", ScopeVerdict.Possible), Reached("3")]);
        Assert.Equal((1, 1, 1), (difference.Added, difference.Changed, difference.NotReached));
        Assert.Equal(["LAMP/1", "LAMP/2", "LAMP/3"], difference.Units.Select(u => u.Unit.ToString()));
        story.Run(2, 5, [.. difference.Units]);
        Assert.Equal(3, story.Case.Members.Count);
        Assert.True(story.Member("1") is { Verdict: null, Why: "lot ADH/L1 at GLUE", HasFinalOutcome: false });
        Assert.Equal("containment-late-not-acknowledged", story.Refused(Closed(6))?.Code);

        // Told once: the same answer again is no difference, and being reached again is one.
        Assert.Empty(ContainmentDifference.Of(story.Case, [Reached("2", ScopeVerdict.Possible), Reached("3")]).Units);
        Assert.Equal(1, ContainmentDifference.Of(story.Case, [Reached("1"), Reached("2", ScopeVerdict.Possible), Reached("3")]).Changed);
    }

    [Fact]
    public void Holds_are_told_with_the_case()
    {
        var story = Frozen("1").Tell(new ContainmentHoldsSet(Id, [Unit("1"), Unit("9")], []) { OccurredAt = Some.At(2) });
        Assert.True(story.Member("1").IsHeld);
        story.Tell(new ContainmentHoldsSet(Id, [], [Unit("1")]) { OccurredAt = Some.At(3) });
        Assert.True(story.Member("1") is { IsHeld: false } lifted && lifted.HeldAt == Some.At(2) && lifted.LiftedAt == Some.At(3));
    }

    [Fact]
    public void A_fact_that_cannot_be_read_keeps_a_case_from_being_closed()
    {
        var story = Frozen("1").Tell(FollowedUp(2, FollowUpOutcome.Reworked, "1")).Tell(new UnreadableFact("containment_members_found", "poison") { OccurredAt = Some.At(3) });
        Assert.True(story.Case.HasUnreadable);
        Assert.Equal("containment-not-scoped", story.Refused(Closed(4))?.Code);
    }

    [Fact]
    public void A_case_of_fifty_thousand_members_is_told_whole_and_changes_by_its_difference_only()
    {
        var all = Enumerable.Range(1, 50_000).Select(i => Reached($"{i}")).ToArray();
        var story = new CaseStory().Tell(Opened(0));
        foreach (var part in all.Chunk(1_000))
        {
            story.Tell(new ContainmentMembersFound(Id, 1, Some.At(1), [.. part]) { OccurredAt = Some.At(1) });
        }

        Assert.Equal(50_000, story.Case.Members.Count);
        var difference = ContainmentDifference.Of(story.Case, [.. all.Skip(1), Reached("50001")]);
        Assert.Equal(["LAMP/1", "LAMP/50001"], difference.Units.Select(u => u.Unit.ToString()));
    }

    [Theory]
    [InlineData(new double[] { }, null, null)]
    [InlineData(new double[] { 5 }, 5.0, 5.0)]
    [InlineData(new double[] { 9, 1, 2 }, 2.0, 9.0)]
    [InlineData(new double[] { 8, 1, 2, 4 }, 3.0, 8.0)]
    [InlineData(new double[] { -4, 6 }, 3.0, 6.0)]
    public void The_median_and_the_longest_time_to_contain_are_told(double[] minutes, double? median, double? longest)
    {
        var figures = TimeToContain.Of(Some.At(0), minutes.Select(Some.At));
        Assert.Equal((minutes.Length, median, longest), (figures.Count, figures.Median?.TotalMinutes, figures.Longest?.TotalMinutes));
    }

    private static CaseStory In(ContainmentState state) => state switch
    {
        ContainmentState.Unknown => new(),
        ContainmentState.Open => Frozen("1").Tell(FollowedUp(2, FollowUpOutcome.Reworked, "1")),
        _ => Frozen("1").Tell(FollowedUp(2, FollowUpOutcome.Reworked, "1")).Tell(Closed(3)),
    };

    private static IContainmentFact Does(ContainmentAct act) => act switch
    {
        ContainmentAct.Open => Opened(9),
        ContainmentAct.Find => new ContainmentMembersFound(Id, 2, Some.At(9), [Reached("1")]) { OccurredAt = Some.At(9) },
        ContainmentAct.FollowUp => FollowedUp(9, FollowUpOutcome.Scrapped, "1"),
        ContainmentAct.Acknowledge => Acknowledged(9),
        ContainmentAct.Close => Closed(9),
        _ => Reopened(9),
    };
}
