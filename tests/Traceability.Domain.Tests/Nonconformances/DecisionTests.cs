using Traceability.Domain.Facts;
using Traceability.Domain.Nonconformances;
using Traceability.Domain.Primitives;
using Traceability.Domain.ProductUnits;
using Traceability.Testing.Building;
using Xunit;

namespace Traceability.Domain.Tests.Nonconformances;

public sealed class DecisionTests
{
    private static readonly ContentHash Photo = ContentHash.Parse(new string('a', 64));

    private static UnitStory Failed => Lamp.Given.Wired(0, passed: false);

    private static NonconformanceDisposed Scrap(UnitStory story, double at = 10) => Lamp.Dispose(story.Last("check-failed", "POLARITY"), Disposition.Scrap, at);

    private static void Refused(Refusal? refusal, string code, RefusalKind kind, string pointer)
    {
        Assert.NotNull(refusal);
        Assert.Equal((code, kind, pointer), (refusal.Code, refusal.Kind, Assert.Single(refusal.Faults).Pointer));
    }

    [Fact]
    public void Nobody_is_no_person_to_decide() =>
        Refused(Failed.Check(Scrap(Failed) with { Person = null }), "person-missing", RefusalKind.Malformed, "/person");

    [Fact]
    public void A_person_who_is_not_known_may_not_decide() =>
        Refused(Failed.Check(Scrap(Failed) with { Person = PersonCode.Parse("P-404") }), "person-unknown", RefusalKind.Unknown, "/person");

    [Fact]
    public void A_person_who_is_qualified_for_something_else_may_not_decide() =>
        Refused(Failed.Check(Scrap(Failed) with { Person = Some.Person }), "person-not-qualified", RefusalKind.Unauthorised, "/person");

    [Theory]
    [InlineData(-5_000.001, "person-not-qualified")]
    [InlineData(-5_000, null)]
    [InlineData(4_999.999, null)]
    [InlineData(5_000, "person-not-qualified")]
    public void The_qualification_counts_as_it_is_when_the_decision_is_made(double at, string? code) =>
        Assert.Equal(code, Failed.Check(Scrap(Failed, at))?.Code);

    [Theory]
    [InlineData("SOLDER")]
    [InlineData("WIRE-2")]
    public void A_step_that_the_unit_does_not_have_can_not_be_re_opened(string step)
    {
        var story = Failed;
        var decision = Lamp.Dispose(story.Last("check-failed", "POLARITY"), Disposition.Rework, 10, null, "WIRE", step);
        Refused(story.Check(decision), "step-not-in-routing", RefusalKind.Unknown, "/reopens/1");
    }

    [Fact]
    public void A_file_that_is_not_stored_is_unknown_and_one_that_is_stored_is_taken()
    {
        var story = Failed;
        var report = new NonconformanceReported(Lamp.Unit, null, Some.Code("CHIP"), "seen", [Photo]) { OccurredAt = Some.At(5) };
        var stored = story.References.WithAttachments([Photo]);
        foreach (var fact in new Fact[] { report, Scrap(story) with { Attachments = [Photo] } })
        {
            Refused(story.Check(fact), "attachment-unknown", RefusalKind.Unknown, "/attachments/0");
            Assert.Null(UnitDecisions.Check(story.ProductUnit, fact, stored));
        }
    }

    [Fact]
    public void A_report_about_a_scrapped_or_shipped_unit_is_recorded_all_the_same()
    {
        var story = Lamp.Given.Tell(new UnitScrapped(Lamp.Unit, "dropped") { OccurredAt = Some.At(1) });
        Assert.Null(story.Check(new NonconformanceReported(Lamp.Unit, null, Some.Code("CHIP"), "seen", []) { OccurredAt = Some.At(5) }));
    }

    [Fact]
    public void A_correction_of_a_decision_is_checked_like_one_and_is_about_the_same_nonconformance()
    {
        var story = Failed.Reported(5);
        var other = NonconformanceId.OfReport(story.LastId);
        var decision = Lamp.Dispose(NonconformanceId.OfFinding(story.Facts[^2].Id, "check-failed", "POLARITY"), Disposition.Scrap, 10);
        story.Tell(decision);

        Refused(story.Check(Correct(decision with { Person = Some.Person })), "person-not-qualified", RefusalKind.Unauthorised, "/replacement/person");
        Refused(story.Check(Correct(decision with { Attachments = [Photo] })), "attachment-unknown", RefusalKind.Unknown, "/replacement/attachments/0");
        Refused(
            CorrectionDecisions.Check(story.ProductUnit.Facts, Correct(decision with { Nonconformance = other })), "replacement-of-other-subject", RefusalKind.Contradiction, "/replacement/nonconformance");
        var right = Correct(decision with { Disposition = Disposition.ReturnToSupplier });
        Assert.Null(CorrectionDecisions.Check(story.ProductUnit.Facts, right) ?? story.Check(right));

        RecordCorrected Correct(Fact replacement) => new(story.LastId, replacement, "wrong key pressed", Some.Quality) { OccurredAt = Some.At(20) };
    }

    [Fact]
    public void The_name_of_a_nonconformance_is_read_back_as_it_was_made()
    {
        var record = new Guid("01890a5d-ac96-774b-bcce-b302099a8057");
        var finding = NonconformanceId.OfFinding(record, "check-failed", "A.B-1");
        Assert.True(NonconformanceId.Parse(finding.ToString().ToUpperInvariant()[..36] + finding.ToString()[36..]).TrySplit(out var id, out var kind, out var rule));
        Assert.Equal((record, "check-failed", "A.B-1"), (id, kind, rule));
        Assert.Equal(finding, NonconformanceId.Parse(finding.ToString().ToUpperInvariant()[..36] + finding.ToString()[36..]));
        Assert.True(NonconformanceId.OfReport(record).TrySplit(out id, out kind, out rule));
        Assert.Equal((record, string.Empty, string.Empty), (id, kind, rule));
        Assert.All(["LEAK", $"{record}.", $"{record}.x", $"{record}..x", $"{record}+x.y"], text => Assert.False(NonconformanceId.Parse(text).TrySplit(out _, out _, out _), text));
    }
}
