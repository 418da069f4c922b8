using CsCheck;
using Traceability.Domain.Judging;
using Traceability.Domain.Nonconformances;
using Traceability.Domain.Primitives;
using Traceability.Domain.ProductUnits;
using Traceability.Testing.Building;
using Xunit;

namespace Traceability.Domain.Tests.Nonconformances;

public sealed class NonconformanceProperties
{
    [Fact]
    public void They_are_the_defects_found_the_reports_and_what_decisions_name_each_once()
    {
        var seen = new HashSet<NonconformanceState>();
        Histories.Facts.Sample(
            facts =>
            {
                var unit = ProductUnit.Of(Histories.Lamp, facts);
                var judgement = Judge.Unit(unit, Histories.References);
                var standing = judgement.Findings.Where(f => f.Policy.CountsAsDefect).Select(f => NonconformanceId.OfFinding(f.Record, f.Kind, f.Rule)).ToHashSet();
                var reports = unit.Effective.Where(f => f.Fact is NonconformanceReported).ToArray();
                standing.UnionWith(reports.Where(f => !f.IsVoided).Select(f => NonconformanceId.OfReport(f.Id)));
                var all = standing.Concat(reports.Select(f => NonconformanceId.OfReport(f.Id)))
                    .Concat(unit.Effective.Where(f => !f.IsVoided).Select(f => f.Fact).OfType<INonconformanceDecision>().Select(d => d.Nonconformance));
                Assert.Equal(all.ToHashSet().OrderBy(i => i.Value), judgement.Nonconformances.Select(n => n.Id).OrderBy(i => i.Value));
                Assert.All(judgement.Nonconformances, n => Assert.Equal(standing.Contains(n.Id), n.State != NonconformanceState.Moot));

                lock (seen)
                {
                    seen.UnionWith(judgement.Nonconformances.Select(n => n.State));
                }
            },
            iter: 1_500);

        // A property over histories that reach few states would prove little.
        Assert.Equal(Enum.GetValues<NonconformanceState>().Length, seen.Count);
    }

    [Fact]
    public void A_unit_whose_last_attempts_all_passed_has_nothing_open_that_nobody_reported_or_decided_about() =>
        Histories.Facts.Sample(
            facts =>
            {
                var judgement = Judge.Unit(ProductUnit.Of(Histories.Lamp, facts), Histories.References);
                var passed = judgement.Steps.GroupBy(s => s.Step).Where(g => g.MaxBy(s => s.Attempt)!.Passed).Select(g => g.Key).ToHashSet();
                Assert.DoesNotContain(judgement.Nonconformances, n => n is { State: NonconformanceState.Open, Attempt: > 0, Step: { } step } && passed.Contains(step));
            },
            iter: 1_000);

    [Fact]
    public void A_finding_is_marked_exactly_when_its_nonconformance_is_conceded() =>
        Histories.Facts.Sample(
            facts =>
            {
                var judgement = Judge.Unit(ProductUnit.Of(Histories.Lamp, facts), Histories.References);
                var concessions = judgement.Nonconformances.ToDictionary(n => n.Id, n => n.Concession);
                Assert.All(judgement.Findings, f => Assert.Equal(concessions.GetValueOrDefault(NonconformanceId.OfFinding(f.Record, f.Kind, f.Rule)), f.Concession));
                Assert.All(judgement.Nonconformances.Where(n => n.Concession is not null), n => Assert.Equal(NonconformanceState.Closed, n.State));
            },
            iter: 1_000);
}
