using Traceability.Domain.Nonconformances;
using Traceability.Domain.Primitives;
using Traceability.Testing.Building;
using Xunit;

namespace Traceability.Domain.Tests.Nonconformances;

/// <summary>The seal is too deep again and again; the first time it was conceded.</summary>
public sealed class ConcessionTests
{
    private const string Kind = "value-out-of-limits";

    private static (UnitStory Story, NonconformanceId First) Given(Concession concession)
    {
        var story = Lamp.Given.Wired(-10).Sealed(0, depth: 11);
        var first = story.Last(Kind, "DEPTH");
        return (story.Disposed(5, first, Disposition.UseAsIs, concession), first);
    }

    private static string States(UnitStory story) =>
        string.Join(' ', story.Judgement.Nonconformances.Where(n => n.Kind == Kind).Select(n => n.State == NonconformanceState.Closed ? "conceded" : n.State.ToString()));

    [Theory]
    [InlineData(1, "conceded Open Open Open")]
    [InlineData(2, "conceded conceded Open Open")]
    [InlineData(4, "conceded conceded conceded conceded")]
    public void A_count_covers_that_many_the_one_that_it_was_given_for_being_the_first(int count, string expected)
    {
        var (story, _) = Given(new(Some.Code("C-1"), null, count));
        Assert.Equal(expected, States(story.Sealed(10, 12).Sealed(20, 12).Sealed(30, 12)));
    }

    [Theory]
    [InlineData(20, "conceded conceded Open Open")]
    [InlineData(20.001, "conceded conceded conceded Open")]
    public void An_end_covers_what_happened_before_it_and_not_at_it(double until, string expected)
    {
        var (story, _) = Given(new(Some.Code("C-1"), Some.At(until), null));
        Assert.Equal(expected, States(story.Sealed(10, 12).Sealed(20, 12).Sealed(30, 12)));
    }

    [Fact]
    public void The_narrower_of_both_limits_counts()
    {
        var (story, _) = Given(new(Some.Code("C-1"), Some.At(15), 3));
        Assert.Equal("conceded conceded Open Open", States(story.Sealed(10, 12).Sealed(20, 12).Sealed(30, 12)));
    }

    [Fact]
    public void What_happened_before_the_one_that_it_was_given_for_is_not_covered_also_when_it_is_told_later()
    {
        var (story, _) = Given(new(Some.Code("C-1"), null, 2));
        Assert.Equal("Open conceded conceded", States(story.Sealed(10, 12).Sealed(-5, 12)));
    }

    [Fact]
    public void It_covers_no_other_rule_step_or_report()
    {
        var (story, _) = Given(Lamp.Wide);
        story.Wired(10, passed: false).Reported(20);
        Assert.Equal(2, NonconformanceRules.OpenOf(story.Judgement).Length);
    }

    [Fact]
    public void The_finding_stays_and_is_marked()
    {
        var (story, first) = Given(new(Some.Code("C-1"), null, 1));
        story.Sealed(10, 12);
        var findings = story.Judgement.Findings.Where(f => f.Kind == Kind).ToArray();
        Assert.Equal([Some.Code("C-1"), null], findings.Select(f => f.Concession));
        Assert.False(story.Judgement.Steps[1].Passed);
        var closed = story.Find(first);
        Assert.Equal((Some.Code("C-1"), Some.At(5), (Disposition?)Disposition.UseAsIs), (closed.Concession, closed.EndedAt, closed.Disposition));
    }

    [Fact]
    public void A_decision_of_its_own_goes_before_a_concession_given_for_another()
    {
        var (story, _) = Given(Lamp.Wide);
        story.Sealed(10, 12);
        var second = story.Last(Kind, "DEPTH");
        Assert.Equal("conceded Disposed", States(story.Disposed(20, second, Disposition.Scrap)));
    }

    [Fact]
    public void It_is_gone_with_its_decision()
    {
        var (story, _) = Given(Lamp.Wide);
        var decision = story.LastId;
        Assert.Equal("Open Open", States(story.Sealed(10, 12).Void(decision)));
    }

    [Theory]
    [InlineData(0, "concession-not-covering")]
    [InlineData(0.001, null)]
    public void One_that_ends_before_what_it_is_given_for_is_refused(double until, string? code)
    {
        var story = Lamp.Given.Wired(-10).Sealed(0, depth: 11);
        var refusal = story.Check(Lamp.Dispose(story.Last(Kind, "DEPTH"), Disposition.UseAsIs, 5, new(Some.Code("C-1"), Some.At(until), null)));
        Assert.Equal((code, code is null ? null : "/concession/until"), (refusal?.Code, refusal?.Faults[0].Pointer));
    }

    [Fact]
    public void One_that_a_correction_takes_out_of_its_time_covers_nothing_and_the_unit_stays_open()
    {
        var (story, first) = Given(new(Some.Code("C-1"), Some.At(1), null));
        var record = story.Facts[^2].Id;
        story.Correct(record, new StepRecord(Lamp.Unit, "SEAL", Some.At(2)).Measured("DEPTH", 11, "mm").Fact);
        Assert.Equal((NonconformanceState.Disposed, true), (story.Find(first).State, story.Find(first).IsOpen));
    }
}
