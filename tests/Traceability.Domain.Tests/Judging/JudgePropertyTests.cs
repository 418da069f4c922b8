using System.Collections.Immutable;
using CsCheck;
using Traceability.Domain.Facts;
using Traceability.Domain.Judging;
using Traceability.Domain.ProductUnits;
using Traceability.Testing.Building;
using Xunit;

namespace Traceability.Domain.Tests.Judging;

public sealed class JudgePropertyTests
{
    private static string Judged(IEnumerable<RecordedFact> facts) =>
        Canonical.Text(Judge.Unit(ProductUnit.Of(Histories.Lamp, facts), Histories.References));

    [Fact]
    public void The_same_facts_in_any_order_of_arrival_give_the_same_judgement()
    {
        var cases =
            from facts in Histories.Facts
            from shuffled in Gen.Shuffle(facts.ToArray())
            select (facts, shuffled);

        cases.Sample(c => Assert.Equal(Judged(c.facts), Judged(c.shuffled)), iter: 1_500);
    }

    [Fact]
    public void Facts_that_arrive_one_by_one_are_judged_as_those_read_back_at_once() =>
        Histories.Facts.Sample(
            facts =>
            {
                var live = ProductUnit.Unknown(Histories.Lamp);
                foreach (var fact in facts)
                {
                    live = live.With(fact);
                    _ = live.Effective;
                }

                Assert.Equal(Judged(facts), Canonical.Text(Judge.Unit(live, Histories.References)));
            },
            iter: 1_000);

    [Fact]
    public void A_correction_and_its_void_leave_the_judgement_as_it_was()
    {
        var cases =
            from facts in Histories.Facts
            from index in Gen.Int[0, facts.Length - 1]
            from replacement in Histories.Fact
            from reverse in Gen.Bool
            select (facts, index, replacement, reverse);

        cases.Sample(
            c =>
            {
                var corrected = new RecordedFact(
                    Some.Id(501), new RecordCorrected(c.facts[c.index].Id, c.replacement, "misread", Some.Quality) { OccurredAt = Some.At(90) }, Some.At(90));
                var voided = new RecordedFact(Some.Id(502), new RecordVoided(corrected.Id, "it was right", Some.Quality) { OccurredAt = Some.At(91) }, Some.At(91));
                ImmutableArray<RecordedFact> all = c.reverse ? [voided, corrected, .. c.facts] : [.. c.facts, corrected, voided];
                Assert.Equal(Judged(c.facts), Judged(all));
            },
            iter: 1_000);
    }

    [Fact]
    public void A_void_of_a_void_restores()
    {
        var cases =
            from facts in Histories.Facts
            from index in Gen.Int[0, facts.Length - 1]
            select (facts, index);

        cases.Sample(
            c =>
            {
                var first = new RecordedFact(Some.Id(501), new RecordVoided(c.facts[c.index].Id, "wrong unit", Some.Quality) { OccurredAt = Some.At(90) }, Some.At(90));
                var second = new RecordedFact(Some.Id(502), new RecordVoided(first.Id, "it was right", Some.Quality) { OccurredAt = Some.At(91) }, Some.At(91));
                Assert.Equal(Judged(c.facts), Judged([.. c.facts, first, second]));
            },
            iter: 1_000);
    }

    [Fact]
    public void The_histories_do_reach_nearly_every_kind_of_finding()
    {
        // A property over histories that break no rule would prove nothing.
        var seen = new HashSet<string>(StringComparer.Ordinal);
        Histories.Facts.Sample(
            facts =>
            {
                foreach (var finding in Judge.Unit(ProductUnit.Of(Histories.Lamp, facts), Histories.References).Findings)
                {
                    lock (seen)
                    {
                        seen.Add(finding.Kind);
                    }
                }
            },
            iter: 1_000);
        Assert.InRange(seen.Count, 40, Policies.Kinds.Length);
    }

    [Fact]
    public void No_set_of_facts_makes_judging_fail_and_garbage_is_judged_in_any_order_alike()
    {
        var cases =
            from facts in Histories.Garbage
            from shuffled in Gen.Shuffle(facts.ToArray())
            select (facts, shuffled);

        cases.Sample(
            c =>
            {
                var unit = ProductUnit.Of(Histories.Lamp, c.facts);
                var judgement = Judge.Unit(unit, Histories.References);
                Assert.Equal(unit.Effective.Any(f => f.Fact is UnreadableFact), judgement.Status.HasUnreadable);
                Assert.Equal(Canonical.Text(judgement), Judged(c.shuffled));
            },
            iter: 1_500);
    }

    [Fact]
    public void A_finding_has_one_identity_within_its_unit() =>
        Histories.Facts.Sample(
            facts =>
            {
                var findings = Judge.Unit(ProductUnit.Of(Histories.Lamp, facts), Histories.References).Findings;
                Assert.Equal(findings.Length, findings.Select(f => (f.Kind, f.Rule, f.Step, f.Attempt)).Distinct().Count());
            },
            iter: 1_000);

    [Fact]
    public void An_attempt_has_as_many_defects_as_its_findings_tell() =>
        Histories.Facts.Sample(
            facts =>
            {
                var judgement = Judge.Unit(ProductUnit.Of(Histories.Lamp, facts), Histories.References);
                Assert.All(judgement.Steps, step =>
                {
                    var found = judgement.Findings.Where(f => f.Record == step.Record && f.Attempt == step.Attempt && f.Policy.CountsAsDefect);
                    Assert.Equal(found.Any(), !step.Passed);
                    Assert.Equal(step.Defects, found.Sum(f => f.Kind == FindingKinds.DefectReported ? int.Parse(f.Evidence["count"], System.Globalization.CultureInfo.InvariantCulture) : 1));
                });
            },
            iter: 1_000);

    [Fact]
    public void Every_kind_of_finding_has_a_default_policy() =>
        Assert.Equal(
            typeof(FindingKinds).GetFields().Select(f => (string)f.GetRawConstantValue()!).Order(StringComparer.Ordinal),
            Policies.Kinds.Order(StringComparer.Ordinal));
}
