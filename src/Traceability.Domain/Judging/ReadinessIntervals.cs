using Traceability.Domain.Facts;
using Traceability.Domain.Routings;

namespace Traceability.Domain.Judging;

/// <summary>Intervals that would end at a step which hasn't been started.</summary>
internal static class ReadinessIntervals
{
    /// <summary>Adds what would be broken by starting at the attempt's time; says from when on completing meets every minimum.</summary>
    public static DateTimeOffset? Judge(
        UnitHistory history,
        Attempt attempt,
        ImmutableArray<ReadinessReason>.Builder reasons,
        ImmutableArray<string>.Builder assumptions,
        ImmutableArray<IntervalDeadline>.Builder deadlines)
    {
        DateTimeOffset? earliest = null;
        foreach (var rule in attempt.Epoch.Revision!.IntervalsTo[attempt.Index])
        {
            if (!IntervalRules.Holds(history, attempt.Epoch, rule))
            {
                continue;
            }

            var isAtStart = rule.Rule.To.Kind == MilestoneKind.Started;
            switch (Start(history, attempt, rule, out var start))
            {
                case StartState.Known:
                    var deadline = Deadline(history, attempt, rule, start);
                    if (deadline is not null)
                    {
                        deadlines.Add(deadline);
                        if (deadline.Assumption is { } assumption)
                        {
                            assumptions.Add($"{rule.Rule.Name}: {assumption}");
                        }
                    }

                    Known(history, attempt, rule, start, isAtStart, deadline, reasons);
                    var isAtCompletion = rule.Rule.To.Kind == MilestoneKind.Completed;
                    var met = rule.Rule.Temperature is not null && (isAtStart || isAtCompletion)
                        ? Cured(history, attempt, rule, start, isAtStart, reasons, assumptions)
                        : rule.Rule.Minimum is { } minimum ? Instant.Shift(Instant.Shift(start.At, minimum), start.Uncertainty) : null;
                    if (isAtCompletion && met is not null)
                    {
                        earliest = earliest is { } known && known > met ? known : met;
                    }

                    break;
                case StartState.NotRecorded:
                    NotRecorded(rule, reasons);
                    break;
                case StartState.NotDone when rule.From != rule.To:
                    NotRecorded(rule, reasons);
                    break;
            }
        }

        return earliest;
    }

    // Within one step the interval may start with this very attempt; what comes later in it can't be judged yet.
    private static StartState Start(UnitHistory history, Attempt attempt, IndexedInterval rule, out Moment start)
    {
        var at = new Moment(attempt.At, TimeSpan.Zero, Guid.Empty);
        if (rule.From == rule.To && rule.Rule.To.Kind != MilestoneKind.Started)
        {
            var own = rule.Rule.From.Kind is MilestoneKind.Started or MilestoneKind.ContainerOpened
                ? Milestones.In(history, attempt, rule.Rule.From)
                : null;
            start = own ?? default;
            return own is null ? StartState.NotDone : StartState.Known;
        }

        return Milestones.FindStart(history, attempt.Epoch, rule, at, attempt, out start);
    }

    // Until when the interval must end, by its maximum; null without one.
    private static IntervalDeadline? Deadline(UnitHistory history, Attempt attempt, IndexedInterval rule, Moment start)
    {
        if (rule.Rule.Maximum is not { } maximum)
        {
            return null;
        }

        var forecast = rule.Rule.OpenTimeOf is null
            ? new(Instant.Shift(Instant.Shift(start.At, maximum), -start.Uncertainty), null, null)
            : OpenTimeRules.Forecast(history, attempt.Epoch, rule, start, attempt.At);
        return new(rule.Rule.Code, rule.Rule.Name, rule.Rule.To.Kind, start.At.ToUniversalTime(), forecast.ReadyAt, forecast.Assumption);
    }

    private static void Known(
        UnitHistory history, Attempt attempt, IndexedInterval rule, Moment start, bool isAtStart, IntervalDeadline? deadline, ImmutableArray<ReadinessReason>.Builder reasons)
    {
        var elapsed = attempt.At - start.At;
        var enforcement = (rule.Rule.Policy ?? Policies.Interval).Enforcement;
        var open = rule.Rule.OpenTimeOf is null ? null : OpenTimeRules.Judge(history, attempt.Epoch, rule, start, new(attempt.At, TimeSpan.Zero, Guid.Empty));
        var late = open?.Verdict ?? IntervalVerdicts.Judge(elapsed, start.Uncertainty, null, rule.Rule.Maximum);
        if (late == IntervalVerdict.TooLong)
        {
            reasons.Add(new(
                FindingKinds.IntervalTooLong,
                rule.Rule.Code.ToString(),
                $"{rule.Rule.Name}: the maximum{(open is null ? $" of {Say.Span(rule.Rule.Maximum!.Value)}" : $" ({open.Limit})")} has passed.{open?.Said}",
                enforcement,
                null));
        }
        else if (isAtStart && late == IntervalVerdict.Undetermined)
        {
            var what = open is { IsByDose: true } ? "what was read of the temperature and the clocks leave open whether the maximum has passed." : "whether the maximum has passed lies within the uncertainty of the clocks.";
            reasons.Add(new(
                FindingKinds.IntervalUndetermined,
                rule.Rule.Code.ToString(),
                $"{rule.Rule.Name}: {what}{open?.Said}{(open is null || deadline?.Assumption is not { } assumption ? null : $" {assumption}")}",
                enforcement,
                null));
        }

        if (isAtStart && rule.Rule.Minimum is { } minimum
            && IntervalVerdicts.Judge(elapsed, start.Uncertainty, minimum, null) != IntervalVerdict.Kept)
        {
            var until = Instant.Shift(Instant.Shift(start.At, minimum), start.Uncertainty);
            reasons.Add(new(FindingKinds.IntervalTooShort, rule.Rule.Code.ToString(), $"{rule.Rule.Name}: wait until {Say.Time(until)}.", enforcement, until));
        }
    }

    // A minimum by temperature: gives from when on it is met, as far as that can be told, and with which assumption.
    private static DateTimeOffset? Cured(
        UnitHistory history,
        Attempt attempt,
        IndexedInterval rule,
        Moment start,
        bool isAtStart,
        ImmutableArray<ReadinessReason>.Builder reasons,
        ImmutableArray<string>.Builder assumptions)
    {
        var forecast = CureRules.Forecast(history, attempt.Epoch, rule, start);
        if (forecast.Assumption is { } assumption)
        {
            assumptions.Add($"{rule.Rule.Name}: {assumption}");
        }

        DateTimeOffset? met = forecast.ReadyAt is { } ready ? Instant.Shift(ready, start.Uncertainty) : null;
        var now = new Moment(attempt.At, TimeSpan.Zero, Guid.Empty);
        if (isAtStart && CureRules.Judge(history, attempt.Epoch, rule, start, now) is { Verdict: not IntervalVerdict.Kept } judged)
        {
            var until = met > attempt.At ? met : null;
            var kind = until is null && judged.Verdict == IntervalVerdict.Undetermined ? FindingKinds.IntervalUndetermined : FindingKinds.IntervalTooShort;
            var what = until is { } time ? $"wait until {Say.Time(time)}." : "when it will have cured can't be told.";
            reasons.Add(new(
                kind,
                rule.Rule.Code.ToString(),
                $"{rule.Rule.Name}: {what}{judged.Said}{(forecast.Assumption is null ? null : $" {forecast.Assumption}")}",
                (rule.Rule.Policy ?? Policies.Interval).Enforcement,
                until));
        }

        return met;
    }

    private static void NotRecorded(IndexedInterval rule, ImmutableArray<ReadinessReason>.Builder reasons) => reasons.Add(new(
        FindingKinds.IntervalStartNotRecorded,
        rule.Rule.Code.ToString(),
        $"{rule.Rule.Name}: its start at step {rule.Rule.From.Step} is not recorded, so it can't be judged.",
        (rule.Rule.Policy ?? Policies.For(FindingKinds.IntervalStartNotRecorded)).Enforcement,
        null));
}
