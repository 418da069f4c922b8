using System.Collections.Immutable;
using CsCheck;
using Traceability.Domain.Facts;
using Traceability.Domain.Judging;
using Traceability.Domain.ProductUnits;
using Traceability.Domain.Routings;
using Traceability.Testing.Building;
using Xunit;

namespace Traceability.Domain.Tests.Judging;

public sealed class EvidencePropertyTests
{
    private static UnitJudgement Judged(ProductUnit unit) => Judge.Unit(unit, Histories.References);

    private static void Sample(Action<ProductUnit, UnitJudgement> holds) => Histories.Facts.Sample(
        facts =>
        {
            var unit = ProductUnit.Of(Histories.Lamp, facts);
            holds(unit, Judged(unit));
        },
        iter: 1_000);

    private static IEnumerable<(Guid Id, StepCompleted Step)> Completed(ProductUnit unit) =>
        unit.Effective.Where(f => !f.IsVoided).Select(f => (f.Id, Step: f.Fact as StepCompleted)).Where(f => f.Step is not null).Select(f => (f.Id, f.Step!));

    [Fact]
    public void Every_value_and_check_of_every_record_that_counts_is_told_and_no_other() => Sample((unit, judgement) =>
    {
        var recorded = Completed(unit).SelectMany(c => c.Step.Measurements
            .Select(m => $"{c.Id} {m.Characteristic} {m.Value} {m.Unit}")
            .Concat(c.Step.Checks.Select(k => $"{c.Id} {k.Characteristic} {k.Passed}")));
        Assert.Equal(
            recorded.Order(StringComparer.Ordinal),
            judgement.Measurements.Select(m => $"{m.Record} {m.Characteristic} {m.Value?.ToString() ?? m.Passed.ToString()}").Order(StringComparer.Ordinal));
    });

    [Fact]
    public void A_value_is_out_of_its_limits_exactly_when_that_is_found() => Sample((_, judgement) =>
        Assert.All(judgement.Measurements.Where(m => m.Value is not null), m => Assert.Equal(
            judgement.Findings.Any(f => f.Kind == FindingKinds.ValueOutOfLimits && f.Record == m.Record && f.Attempt == m.Attempt && f.Rule == m.Characteristic.Value),
            m.Passed == false)));

    [Theory]
    [InlineData(WorkGapKind.Tool, FindingKinds.ToolNotRecorded)]
    [InlineData(WorkGapKind.Characteristic, FindingKinds.CharacteristicNotRecorded)]
    public void A_record_has_a_gap_exactly_where_it_is_found_to_leave_something_out(WorkGapKind kind, string found) => Sample((_, judgement) => Assert.Equal(
        judgement.Findings.Where(f => f.Kind == found).Select(f => $"{f.Record} {f.Rule}").Order(StringComparer.Ordinal),
        judgement.WorkGaps.Where(g => g.Kind == kind && g.Reason == GapReason.NotRecorded).Select(g => $"{g.Record} {g.Requirement}").Order(StringComparer.Ordinal)));

    [Fact]
    public void A_broken_interval_is_found_exactly_where_its_result_says_so() => Sample((_, judgement) =>
    {
        string[] kinds = [FindingKinds.IntervalTooShort, FindingKinds.IntervalTooLong, FindingKinds.IntervalUndetermined, FindingKinds.IntervalStartNotRecorded];
        Assert.Equal(
            judgement.Findings.Where(f => kinds.Contains(f.Kind)).Select(f => $"{f.Record} {f.Rule} {f.Kind}").Order(StringComparer.Ordinal),
            judgement.IntervalResults.Where(i => i.Verdict != IntervalVerdict.Kept).Select(i => $"{i.ToRecord} {i.Rule} {Kind(i)}").Order(StringComparer.Ordinal));

        static string Kind(IntervalResult i) => i.Verdict switch
        {
            IntervalVerdict.TooShort => FindingKinds.IntervalTooShort,
            IntervalVerdict.TooLong => FindingKinds.IntervalTooLong,
            _ => i.FromRecord is null ? FindingKinds.IntervalStartNotRecorded : FindingKinds.IntervalUndetermined,
        };
    });

    [Fact]
    public void An_interval_without_a_start_or_an_end_is_a_gap_and_no_other_is() => Sample((_, judgement) => Assert.Equal(
        judgement.IntervalResults.Where(i => i.Least is null || i.Most is null).Select(i => $"{i.ToRecord} {i.Rule}").Order(StringComparer.Ordinal),
        judgement.WorkGaps.Where(g => g.Kind == WorkGapKind.Interval && g.Reason == GapReason.NotRecorded).Select(g => $"{g.Record} {g.Requirement}").Order(StringComparer.Ordinal)));

    // Told from the facts alone, for units that stay under their first revision.
    [Fact]
    public void A_step_is_missing_exactly_when_a_void_or_unreadable_record_hides_it_or_something_needed_it() => Sample((unit, judgement) =>
    {
        var facts = unit.Effective;
        if (facts.Any(f => f.Fact is UnitMovedToRevision { Revision.Value: "B" } && !f.IsVoided))
        {
            return;
        }

        var revision = Histories.References.FindRouting(Histories.Lamp.Item)!.FindReleased(RevisionCode("A"))!;
        var done = Completed(unit).Select(c => c.Step.Step).ToHashSet();
        var isUnreadable = facts.Any(f => f.Fact is UnreadableFact);
        var hasLeft = facts.Any(f => f is { IsVoided: false, Fact: UnitReleased or UnitShipped });
        List<string> expected = [];
        foreach (var step in revision.Steps)
        {
            if (!done.Contains(step.Code))
            {
                expected.AddRange(facts.Where(f => f.IsVoided && f.Fact is StepCompleted c && c.Step == step.Code).Select(_ => $"{step.Code} {GapReason.Voided}"));
            }

            if (isUnreadable)
            {
                expected.Add($"{step.Code} {GapReason.Unreadable}");
            }
            else if (!done.Contains(step.Code) && (hasLeft || done.Any(d => Needs(revision, d, step.Code, []))))
            {
                expected.Add($"{step.Code} {GapReason.StepNotRecorded}");
            }
        }

        Assert.Equal(
            expected.Order(StringComparer.Ordinal),
            judgement.WorkGaps.Where(g => g.Kind == WorkGapKind.Step && g.Reason != GapReason.NotRecorded).Select(g => $"{g.Step} {g.Reason}").Order(StringComparer.Ordinal));
    });

    [Fact]
    public void A_missing_step_leaves_a_gap_for_each_tool_and_required_characteristic_of_it() => Sample((_, judgement) => Assert.All(
        judgement.WorkGaps.Where(g => g.Kind == WorkGapKind.Step && g.Reason != GapReason.NotRecorded),
        gap =>
        {
            var routing = Histories.References.FindRouting(Histories.Lamp.Item)!;
            var steps = new[] { "A", "B" }.Select(r => routing.FindReleased(RevisionCode(r))!.Find(gap.Step)!);
            var asked = steps.Select(s => s.Tools.Select(t => t.Code.Value).Concat(s.Characteristics.Where(c => c.IsRequired).Select(c => c.Code.Value)).Distinct(StringComparer.Ordinal).Order(StringComparer.Ordinal));
            var told = judgement.WorkGaps.Where(g => g.Kind is WorkGapKind.Tool or WorkGapKind.Characteristic && g.Reason == gap.Reason && g.Record == gap.Record && g.Step == gap.Step)
                .Select(g => g.Requirement!.Value.Value).Distinct(StringComparer.Ordinal).Order(StringComparer.Ordinal);
            Assert.Contains(asked, a => a.SequenceEqual(told, StringComparer.Ordinal));
        }));

    [Fact]
    public void Every_start_is_told_by_a_completion_or_as_a_gap() => Sample((unit, judgement) => Assert.All(
        unit.Effective.Where(f => f is { IsVoided: false, Fact: StepStarted }),
        f => Assert.True(
            judgement.WorkGaps.Any(g => g.Kind == WorkGapKind.Step && g.Record == f.Id && g.From <= f.At)
            || judgement.Steps.Any(s => s.Step == ((StepStarted)f.Fact).Step && s.CompletedAt >= f.At))));

    [Fact]
    public void The_time_of_a_step_holds_its_start_and_its_completion() => Sample((_, judgement) => Assert.All(judgement.Steps, s =>
    {
        Assert.InRange(s.CompletedAt, s.Earliest, s.Latest);
        Assert.True(s.StartedAt is not { } started || started >= s.Earliest);
    }));

    private static Domain.Primitives.RevisionCode RevisionCode(string text) => Domain.Primitives.RevisionCode.Parse(text);

    // By the routing's own words: prerequisites, and what a point of no return hides.
    private static bool Needs(RoutingRevision revision, Domain.Primitives.StepCode later, Domain.Primitives.StepCode earlier, HashSet<Domain.Primitives.StepCode> seen) =>
        seen.Add(later) && revision.Find(later) is { } step
        && step.Prerequisites.Concat(step.Hides).Any(s => s == earlier || Needs(revision, s, earlier, seen));
}
