using System.Collections.Immutable;
using System.Security.Cryptography;
using System.Text;
using CsCheck;
using Traceability.Domain.Facts;
using Traceability.Domain.Judging;
using Traceability.Domain.Primitives;
using Traceability.Domain.ProductUnits;
using Traceability.Domain.Tests.Judging;
using Traceability.Testing.Building;
using Xunit;

namespace Traceability.Domain.Tests.Releasing;

/// <summary>What a signature is under, and what becomes of a release when something is known later.</summary>
public sealed class SignedReleaseTests
{
    private static readonly UnitKey Lamp = Some.Unit("LAMP", "1");
    private static readonly UnitKey Head = Some.Unit("HEAD", "H1");

    private static UnitStory Given => new UnitStory(Lamp).Routing(new RoutingBuilder("LAMP").Step("WIRE", s => s.Check("OK")).Step("TEST", s => s.Check("OK"))).Open();

    private static UnitStory Complete => Given.Done("WIRE", 0, s => s.Checked("OK")).Done("TEST", 10, s => s.Checked("OK"));

    [Fact]
    public void A_signed_release_of_a_complete_unit_breaks_no_rule() => Assert.Empty(Signed(Complete, 20).Judgement.Findings);

    [Fact]
    public void A_late_failure_breaks_the_release_that_stays()
    {
        var story = Signed(Complete, 20).Done("TEST", 15, s => s.Checked("OK", passed: false));
        var finding = story.Judgement.Only(FindingKinds.ReleasedIncomplete);
        Assert.Equal(("step-not-passed", Some.Step("TEST"), Some.At(20)), (finding.Rule, finding.Step, finding.At));
        Assert.Equal(Place.InStock, story.Judgement.Status.Place);
    }

    [Fact]
    public void A_failure_after_the_release_does_not() =>
        Assert.DoesNotContain(Signed(Complete, 20).Done("TEST", 25, s => s.Checked("OK", passed: false)).Judgement.Findings, f => f.Kind == FindingKinds.ReleasedIncomplete);

    [Fact]
    public void A_void_of_a_step_breaks_the_release_and_a_void_of_the_void_mends_it()
    {
        var complete = Complete;
        var test = complete.LastId;
        var story = Signed(complete, 20).Void(test);
        Assert.Equal("step-not-done", story.Judgement.Only(FindingKinds.ReleasedIncomplete).Rule);
        Assert.Empty(story.Void(story.LastId, 5_001).Judgement.Findings);
    }

    [Fact]
    public void A_correction_of_what_was_measured_breaks_the_release()
    {
        var complete = Complete;
        var story = Signed(complete, 20).Correct(complete.Facts[1].Id, new StepRecord(Lamp, "WIRE", Some.At(0)).Checked("OK", passed: false).Fact);
        Assert.Equal("step-not-passed", story.Judgement.Only(FindingKinds.ReleasedIncomplete).Rule);
    }

    [Fact]
    public void A_release_that_was_only_reported_is_not_judged_by_what_it_needs() =>
        Assert.DoesNotContain(Given.Released(20).Judgement.Findings, f => f.Kind == FindingKinds.ReleasedIncomplete);

    [Theory]
    [InlineData(2, 2, true)]
    [InlineData(2.1, 2, false)]
    [InlineData(2, 0, false)]
    public void Work_within_its_clocks_uncertainty_after_the_release_counts(double secondsAfter, double uncertainty, bool counts)
    {
        var clock = new ClockReading(TimeSpan.Zero, TimeSpan.FromSeconds(uncertainty), Doubtful: false);
        var story = Signed(Given.Done("WIRE", 0, s => s.Checked("OK")).Done("TEST", 20 + (secondsAfter / 60), s => s.Checked("OK").Clock(clock)), 20);
        Assert.Equal(counts, story.Judgement.Findings.All(f => f.Kind != FindingKinds.ReleasedIncomplete));
    }

    [Fact]
    public void Asking_and_judging_afterwards_agree_on_any_history() => Histories.Facts.Sample(
        facts =>
        {
            // Standing and what is inside are told by other findings; the moment is after all that happened, clocks aside.
            var unit = ProductUnit.Of(Histories.Lamp, facts.Where(f => f.Fact is not (UnitReleased or UnitShipped or UnitReturned or UnitScrapped or RecordCorrected or UnreadableFact)));
            var at = Some.At(100);
            var asked = Release.Ask(new(unit, Histories.References, []), at).Where(b => b.Unit == unit.Key && b.Code is not ("on-hold" or "already-released"));
            var signed = unit.With(new(Some.Id(900), new UnitReleased(unit.Key) { OccurredAt = at, Signature = Unsigned(unit, at) }, at));
            var found = Judge.Unit(signed, Histories.References).Findings.Where(f => f.Kind == FindingKinds.ReleasedIncomplete);
            Assert.Equal(Sorted(asked.Select(b => (b.Code, b.Step)).Distinct()), Sorted(found.Select(f => (f.Rule, f.Step))));
        },
        iter: 1_000);

    [Fact]
    public void Histories_with_a_signed_release_are_judged_alike_in_any_order_of_arrival()
    {
        var cases =
            from facts in Histories.Facts
            from minute in Gen.Int[0, 30]
            let signed = facts.Add(new(Some.Id(900), new UnitReleased(Histories.Lamp) { OccurredAt = Some.At(minute), Signature = Unsigned(ProductUnit.Of(Histories.Lamp, facts), Some.At(minute)) }, Some.At(95)))
            from shuffled in Gen.Shuffle(signed.ToArray())
            select (signed, shuffled);
        cases.Sample(
            c => Assert.Equal(
                Canonical.Text(Judge.Unit(ProductUnit.Of(Histories.Lamp, c.signed), Histories.References)),
                Canonical.Text(Judge.Unit(ProductUnit.Of(Histories.Lamp, c.shuffled), Histories.References))),
            iter: 500);
    }

    [Fact]
    public void What_was_recorded_in_between_is_refused_with_the_release()
    {
        var story = Complete;
        var signature = Unsigned(story.ProductUnit, Some.At(20));
        var release = new UnitReleased(Lamp) { OccurredAt = Some.At(20), Signature = signature };
        Assert.Null(UnitDecisions.Check(story.ProductUnit, release, story.References));
        Assert.Equal("release-record-changed", UnitDecisions.Check(story.Started("TEST", 19).ProductUnit, release, story.References)?.Code);
    }

    [Fact]
    public void A_signed_release_can_be_voided_and_not_corrected()
    {
        var story = Signed(Complete, 20);
        var other = new UnitReleased(Lamp) { OccurredAt = Some.At(21) };
        Assert.Equal("record-not-correctable", CorrectionDecisions.Check([.. story.Facts], new RecordCorrected(story.LastId, other, "late", Some.Quality) { OccurredAt = Some.At(30) })?.Code);
        Assert.Null(CorrectionDecisions.Check([.. story.Facts], new RecordVoided(story.LastId, "too early", Some.Quality) { OccurredAt = Some.At(30) }));
        Assert.Equal(Place.InProcess, story.Void(story.LastId).Judgement.Status.Place);
    }

    [Fact]
    public void The_signed_text_is_as_the_reference_says()
    {
        var signature = Unsigned(Complete.ProductUnit, Some.At(20)) with { Units = [new(Lamp, 2), new(Head, 1)], Meaning = "released\nby hand" };
        var text =
            $"""
            release 1
            unit LAMP/1 version 2
            fact {Some.Id(1)} unit_opened aa
            fact {Some.Id(2)} step_completed ab
            unit HEAD/H1 version 1
            fact {Some.Id(4)} unit_opened ba
            judgement {signature.JudgementHash}
            signed P-9 2026-03-02T12:20:00Z
            name Noor Hale
            meaning released\nby hand

            """.ReplaceLineEndings("\n");
        Assert.Equal(Convert.ToHexStringLower(SHA256.HashData(Encoding.UTF8.GetBytes(text))), ReleaseContent.RecordHash(signature, Stored));
    }

    [Fact]
    public void The_hash_changes_with_whatever_is_signed_and_not_with_what_comes_later()
    {
        var signature = Unsigned(Complete.ProductUnit, Some.At(20)) with { Units = [new(Lamp, 2), new(Head, 1)] };
        Dictionary<UnitKey, ImmutableArray<SignedFact>> With(UnitKey unit, params SignedFact[] facts) => new(Stored) { [unit] = [.. facts] };
        var (opened, done, later) = (Stored[Lamp][0], Stored[Lamp][1], Stored[Lamp][2]);
        var hash = ReleaseContent.RecordHash(signature, Stored);
        Assert.Equal(hash, ReleaseContent.RecordHash(signature, With(Lamp, opened, done)));
        Assert.Null(ReleaseContent.RecordHash(signature, With(Lamp, opened)));
        Assert.Null(ReleaseContent.RecordHash(signature with { Units = [new(Some.Unit("LENS", "1"), 1)] }, Stored));
        string?[] others =
        [
            ReleaseContent.RecordHash(signature with { Meaning = "reviewed" }, Stored),
            ReleaseContent.RecordHash(signature with { Person = Some.Person }, Stored),
            ReleaseContent.RecordHash(signature with { PrintedName = "Noor Hall" }, Stored),
            ReleaseContent.RecordHash(signature with { PrintedName = "Noor Hale\nmeaning released", Meaning = "x" }, Stored),
            ReleaseContent.RecordHash(signature with { SignedAt = Some.At(21) }, Stored),
            ReleaseContent.RecordHash(signature with { JudgementHash = "0" }, Stored),
            ReleaseContent.RecordHash(signature with { Units = [new(Lamp, 2)] }, Stored),
            ReleaseContent.RecordHash(signature with { Units = [new(Lamp, 3), new(Head, 1)] }, Stored),
            ReleaseContent.RecordHash(signature, With(Lamp, done, opened)),
            ReleaseContent.RecordHash(signature, With(Lamp, opened, later)),
            ReleaseContent.RecordHash(signature, With(Lamp, opened, done with { ContentHash = "ac" })),
            ReleaseContent.RecordHash(signature, With(Lamp, opened, done with { StoredName = "step_started" })),
            ReleaseContent.RecordHash(signature, With(Head, Stored[Head][0] with { ContentHash = "bb" })),
        ];
        Assert.All(others, other => Assert.NotEqual(hash, other));
        Assert.All(others, Assert.NotNull);
        Assert.Equal(others.Length, others.Distinct(StringComparer.Ordinal).Count());
    }

    [Fact]
    public void The_hash_of_the_judgement_changes_with_a_finding() =>
        Assert.NotEqual(
            ReleaseContent.JudgementHash(new(Complete.ProductUnit, Complete.References, [])),
            ReleaseContent.JudgementHash(new(Complete.ProductUnit, References.None, [])));

    private static string[] Sorted(IEnumerable<(string Code, StepCode? Step)> lacking) => [.. lacking.Select(l => $"{l.Code} {l.Step}").Order(StringComparer.Ordinal)];

    private static UnitStory Signed(UnitStory story, double at) =>
        story.Tell(new UnitReleased(Lamp) { OccurredAt = Some.At(at), Clock = Some.RightClock, Signature = Unsigned(story.ProductUnit, Some.At(at)) });

    // What the hash is matters to no rule.
    private static Signature Unsigned(ProductUnit unit, DateTimeOffset at) =>
        new(Some.Quality, "Noor Hale", "released", at, [new(unit.Key, unit.Version)], new('0', 64), new('0', 64));

    private static Dictionary<UnitKey, ImmutableArray<SignedFact>> Stored => new()
    {
        [Lamp] = [new(Some.Id(1), "unit_opened", "aa"), new(Some.Id(2), "step_completed", "ab"), new(Some.Id(3), "step_completed", "ad")],
        [Head] = [new(Some.Id(4), "unit_opened", "ba")],
    };
}
