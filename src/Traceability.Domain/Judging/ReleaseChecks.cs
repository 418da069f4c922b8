using Traceability.Domain.Nonconformances;
using Traceability.Domain.Primitives;
using Traceability.Domain.ProductUnits;
using Traceability.Domain.Routings;

namespace Traceability.Domain.Judging;

/// <summary>Something that a unit lacks for its release.</summary>
/// <param name="Unit">The unit, or a unit inside it.</param>
/// <param name="Code">What is lacking: a stable kebab-case code.</param>
/// <param name="Step">The step, where it is about one.</param>
/// <param name="Rule">The part of the routing, the position or the kind of finding that it is about; "" if none.</param>
/// <param name="Record">The record that it rests on; null where it rests on the lack of one.</param>
/// <param name="Detail">What is lacking and what to do, for a person.</param>
public sealed record ReleaseBlocker(UnitKey Unit, string Code, StepCode? Step, string Rule, Guid? Record, string Detail);

/// <summary>A unit laid out for the checks of a release.</summary>
internal sealed class ReleaseContext
{
    private ReleaseContext(UnitHistory history, ImmutableArray<Finding> findings, DateTimeOffset at)
    {
        History = history;
        Findings = findings;
        Nonconformances = NonconformanceFold.Of(history, findings);
        At = at;
    }

    public UnitHistory History { get; }

    /// <summary>What is found on the work; what is found on earlier releases and shipments can't be put right by more work.</summary>
    public ImmutableArray<Finding> Findings { get; }

    /// <summary>What of them, and of what people reported, is under decision.</summary>
    public ImmutableArray<Nonconformance> Nonconformances { get; }

    /// <summary>The moment of the release.</summary>
    public DateTimeOffset At { get; }

    public UnitKey Unit => History.Unit.Key;

    public static ReleaseContext Of(ProductUnit unit, IReferences references, DateTimeOffset at)
    {
        var history = UnitHistory.Of(unit, references);
        var sink = new FindingSink();
        Judge.Work(history, sink);
        Uncertainty.Tell(history, Uncertainty.Of(history), sink);
        return new(history, sink.ToSorted(), at);
    }

    /// <summary>
    /// Whether a finding still tells something of the unit: of an attempt, until the step is done again; of a component, until it
    /// is out; of a nonconformance, until that is dealt with.
    /// </summary>
    public bool Stands(Finding finding)
    {
        var id = NonconformanceId.OfFinding(finding.Record, finding.Kind, finding.Rule);
        if (Nonconformances.Any(n => n.Id == id && !n.IsOpen))
        {
            return false;
        }

        if (finding.Attempt > 0 && finding.Step is { } step && History.FindTrack(step) is { Attempts: { Count: > 0 } attempts } && attempts[^1].Number > finding.Attempt)
        {
            return false;
        }

        return !History.Installed.Fitted.Exists(f =>
            f.To is not null && f.Source.Id == finding.Record && string.Equals(f.Position.ToString(), finding.Rule, StringComparison.Ordinal));
    }

    /// <summary>The findings on an attempt that count as defects and still stand.</summary>
    public IEnumerable<Finding> DefectsOf(Attempt attempt) =>
        Findings.Where(f => f.Step == attempt.Record.Step && f.Attempt == attempt.Number && f.Policy.CountsAsDefect && Stands(f));

    public ReleaseBlocker Block(string code, StepCode? step, string rule, Guid? record, string detail) => new(Unit, code, step, rule, record, detail);
}

/// <summary>What a unit must have to be released: a list of pure checks, each of which tells all that is lacking.</summary>
/// <remarks>Where a unit stands in its life, and the units inside it, are looked at by <see cref="Release"/>.</remarks>
internal static class ReleaseChecks
{
    /// <summary>The checks, in the order in which their answers are given.</summary>
    public static ImmutableArray<Func<ReleaseContext, IEnumerable<ReleaseBlocker>>> All { get; } = [Revision, Steps, Unfinished, Intervals, StoppingFindings, Nonconformances, Positions];

    public static IEnumerable<ReleaseBlocker> Of(ReleaseContext context) => All.SelectMany(check => check(context));

    private static IEnumerable<ReleaseBlocker> Revision(ReleaseContext context)
    {
        var history = context.History;
        var routing = history.References.FindRouting(context.Unit.Item);
        if (history.Current.Revision is null && (routing is not null || history.References.FindItem(context.Unit.Item)?.Kind is not (Items.ItemKind.Part or Items.ItemKind.Consumable)))
        {
            yield return context.Block("no-effective-revision", null, string.Empty, null, "No released revision of the routing applies to this unit, so nothing tells what it needs. Release a revision for it, or move it to one.");
        }
    }

    private static IEnumerable<ReleaseBlocker> Steps(ReleaseContext context)
    {
        foreach (var (step, last) in Each(context))
        {
            if (last is null)
            {
                yield return context.Block("step-not-done", step.Code, step.Code.ToString(), null, $"Step {step.Code} is not recorded as done under the revision that applies. Do it, or correct the records.");
            }
            else if (context.DefectsOf(last).Select(f => f.Kind).Distinct(StringComparer.Ordinal).ToArray() is { Length: > 0 } kinds)
            {
                yield return context.Block("step-not-passed", step.Code, step.Code.ToString(), last.Id, $"The last attempt at step {step.Code} did not pass ({string.Join(", ", kinds)}). Do it again, or decide on what was found.");
            }
        }
    }

    private static IEnumerable<ReleaseBlocker> Unfinished(ReleaseContext context) =>
        from step in Each(context)
        let started = context.History.FindTrack(step.Step.Code)?.PendingStart
        where started is not null
        select context.Block("step-not-finished", step.Step.Code, step.Step.Code.ToString(), started.Id, $"Step {step.Step.Code} was started at {Say.Time(started.At)} and not completed. Complete it, or void the start.");

    // A time between two attempts at one step is open for ever after the last one; it asks for nothing.
    private static IEnumerable<ReleaseBlocker> Intervals(ReleaseContext context)
    {
        foreach (var open in IntervalRules.Open(context.History))
        {
            var state = OpenIntervalStates.At(open, context.At);
            if (open.FromStep != open.ToStep && (open.OverdueAt is not null || open.MayBeOverdueAt is not null || state != OpenIntervalState.Ready))
            {
                var isWaiting = state is OpenIntervalState.NotReady or OpenIntervalState.UndeterminedAtMinimum;
                var what = !isWaiting ? $"Do step {open.ToStep}, which ends it."
                    : open.ReadyAt is { } ready ? $"It is met from {Say.Time(ready)} on.{(open.Assumption is { } assumption ? $" {assumption}" : string.Empty)}"
                    : $"When it is met can't be told: {open.Assumption}";
                yield return context.Block("interval-open", open.ToStep, open.Rule.ToString(), null, $"{open.Name} runs since {Say.Time(open.StartedAt)}, from step {open.FromStep}. {what}");
            }
        }
    }

    // What makes a step fail is told with the step.
    private static IEnumerable<ReleaseBlocker> StoppingFindings(ReleaseContext context) =>
        from finding in context.Findings
        where finding.Policy.Enforcement == Enforcement.Stop && context.Stands(finding)
            && !(finding.Policy.CountsAsDefect && finding is { Attempt: > 0, Step: { } step } && IsOfUnit(context, step))
        select context.Block("finding-open", finding.Step, finding.Kind, finding.Record == Guid.Empty ? null : finding.Record, finding.Message);

    // One that nobody has looked at is told with the step that it made fail.
    private static IEnumerable<ReleaseBlocker> Nonconformances(ReleaseContext context) =>
        from open in context.Nonconformances
        where open.IsOpen && !(open.State == NonconformanceState.Open && open.Kind != NonconformanceRules.Reported && IsToldByStep(context, open.Step))
        select context.Block("nonconformance-open", open.Step, open.Rule, open.Record, $"Nonconformance {open.Id} is {Progress(open)}: {open.Message}");

    private static bool IsToldByStep(ReleaseContext context, StepCode? code) =>
        Each(context).Any(s => s.Step.Code == code && s.Last is { } last && context.DefectsOf(last).Any());

    private static string Progress(Nonconformance open) => open.State switch
    {
        NonconformanceState.UnderDecision => "under decision",
        NonconformanceState.Disposed when !open.Awaited.IsEmpty => $"decided and not done: {string.Join(", ", open.Awaited)} to be done again",
        NonconformanceState.Disposed => "decided and not carried out",
        _ => "open and waits for a decision",
    };

    private static IEnumerable<ReleaseBlocker> Positions(ReleaseContext context)
    {
        var history = context.History;
        foreach (var requirement in Each(context).SelectMany(s => s.Step.Components.OrEmpty()))
        {
            if (history.Applies(requirement.AppliesTo)
                && history.Installed.Fitted.FindLast(f => f.Position == requirement.Position) is { To: not null } last
                && history.Installed.At(requirement.Position, DateTimeOffset.MaxValue) is null)
            {
                yield return context.Block("position-empty", null, requirement.Position.ToString(), last.Ended?.Id, $"{last.Component} was taken out of position {requirement.Position}, and nothing is recorded in its place.");
            }
        }
    }

    private static bool IsOfUnit(ReleaseContext context, StepCode step) => Each(context).Any(s => s.Step.Code == step);

    // The steps that the unit has under the revision that applies, each with the last attempt that counts.
    private static IEnumerable<(Step Step, Attempt? Last)> Each(ReleaseContext context)
    {
        var epoch = context.History.Current;
        for (var i = 0; i < (epoch.Revision?.Steps.Length ?? 0); i++)
        {
            if (epoch.HasStep(context.History, i))
            {
                yield return (epoch.Revision!.Steps[i], context.History.LastDone(epoch, i, DateTimeOffset.MaxValue));
            }
        }
    }
}
