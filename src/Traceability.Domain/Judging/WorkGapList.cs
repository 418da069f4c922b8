using Traceability.Domain.Facts;
using Traceability.Domain.Primitives;
using Traceability.Domain.Routings;

namespace Traceability.Domain.Judging;

/// <summary>Which work should be recorded and isn't: steps, tools, characteristics, intervals. In doubt there is a gap.</summary>
internal sealed class WorkGapList
{
    private readonly UnitHistory _history;
    private ImmutableArray<WorkGap>.Builder? _gaps;

    private WorkGapList(UnitHistory history) => _history = history;

    /// <summary>The gaps, where the tools of the attempts have been judged (else every tool required is missing).</summary>
    /// <param name="history">The unit.</param>
    /// <param name="intervals">The intervals that have ended.</param>
    public static ImmutableArray<WorkGap> Of(UnitHistory history, ImmutableArray<IntervalResult> intervals)
    {
        var list = new WorkGapList(history);
        foreach (var attempt in history.Attempts)
        {
            if (attempt.Step is { } step)
            {
                list.Tools(attempt, step);
                list.Characteristics(attempt, step);
            }
        }

        foreach (var interval in intervals)
        {
            if (interval.Least is null || interval.Most is null)
            {
                list.Interval(interval);
            }
        }

        foreach (var track in history.Tracks)
        {
            list.Starts(track);
        }

        foreach (var missing in history.MissingSteps)
        {
            list.Whole(missing);
        }

        return list._gaps?.ToImmutable() ?? [];
    }

    private void Tools(Attempt attempt, Step step)
    {
        var requirements = step.Tools.OrEmpty();
        for (var r = 0; r < requirements.Length; r++)
        {
            if (!attempt.ToolServes.AsSpan().Contains(r))
            {
                NotRecorded(WorkGapKind.Tool, attempt, step, requirements[r].Code, requirements[r].ToolClass);
            }
        }
    }

    private void Characteristics(Attempt attempt, Step step)
    {
        foreach (var characteristic in step.Characteristics.OrEmpty())
        {
            if (characteristic.IsRequired && !CharacteristicRules.IsRecorded(attempt, characteristic))
            {
                NotRecorded(WorkGapKind.Characteristic, attempt, step, characteristic.Code, null);
            }
        }
    }

    // Its start, or its end, is not recorded. The record that ends it is an attempt at the step, or a start that isn't completed.
    private void Interval(IntervalResult interval)
    {
        var attempt = _history.FindTrack(interval.ToStep)?.Attempts.Find(a => a.Id == interval.ToRecord);
        if (attempt is { Step: { } step })
        {
            NotRecorded(WorkGapKind.Interval, attempt, step, interval.Rule, null);
            return;
        }

        var start = _history.Current.Revision is { } revision && revision.IndexOf(interval.ToStep) is var i and >= 0 ? _history.Current.Tracks[i]?.PendingStart : null;
        var uncertainty = start is null ? TimeSpan.Zero : UnitHistory.UncertaintyOf(start);
        Add(new(
            WorkGapKind.Interval,
            GapReason.NotRecorded,
            interval.ToStep,
            interval.Rule,
            null,
            interval.ToRecord,
            Instant.Shift(interval.At, -uncertainty),
            Instant.Shift(interval.At, uncertainty),
            interval.Station,
            start?.Fact.Person,
            _history.Current.Revision?.Revision.Find(interval.ToStep)?.Stations.OrEmpty() ?? []));
    }

    // Somebody began the step somewhere, and no completion tells the same: it is not recorded what was done then.
    private void Starts(StepTrack track)
    {
        foreach (var start in track.Starts)
        {
            var completed = track.Attempts.Find(a => a.At >= start.At);
            if (completed is not null
                && (start.Fact.Station is not { } station || station == completed.Record.Station)
                && (start.Fact.Person is not { } person || person == completed.Record.Person))
            {
                continue;
            }

            Add(new(
                WorkGapKind.Step,
                GapReason.NotRecorded,
                track.Step,
                null,
                null,
                start.Id,
                Instant.Shift(start.At, -UnitHistory.UncertaintyOf(start)).ToUniversalTime(),
                completed?.Latest,
                start.Fact.Station,
                start.Fact.Person,
                _history.EpochAt(start.At).Revision?.Revision.Find(track.Step)?.Stations.OrEmpty() ?? []));
        }
    }

    // Everything that the step requires, and the intervals that it ends.
    private void Whole(MissingStep missing)
    {
        var step = missing.Step;
        Missing(WorkGapKind.Step, null, null);
        foreach (var tool in step.Tools.OrEmpty())
        {
            Missing(WorkGapKind.Tool, tool.Code, tool.ToolClass);
        }

        foreach (var characteristic in step.Characteristics.OrEmpty())
        {
            if (characteristic.IsRequired)
            {
                Missing(WorkGapKind.Characteristic, characteristic.Code, null);
            }
        }

        foreach (var rule in missing.Epoch.Revision!.IntervalsTo[missing.Index])
        {
            // Between two attempts at one step there is nothing unless both were made.
            if (IntervalRules.Holds(_history, missing.Epoch, rule) && (rule.From != rule.To || missing.Reason == GapReason.Unreadable))
            {
                Missing(WorkGapKind.Interval, rule.Rule.Code, null);
            }
        }

        void Missing(WorkGapKind kind, Code? requirement, Code? toolClass) => Add(new(
            kind, missing.Reason, step.Code, requirement, toolClass, missing.Record, missing.From, missing.To, null, null, step.Stations.OrEmpty())
        {
            // Under which revision a void or unreadable record was made isn't certain, as little as when.
            Revision = missing.Reason == GapReason.StepNotRecorded ? missing.Epoch.Revision!.Revision.Revision : null,
        });
    }

    private void NotRecorded(WorkGapKind kind, Attempt attempt, Step step, Code requirement, Code? toolClass) => Add(new(
        kind,
        GapReason.NotRecorded,
        step.Code,
        requirement,
        toolClass,
        attempt.Id,
        attempt.Earliest,
        attempt.Latest,
        attempt.Record.Station,
        attempt.Record.Person,
        step.Stations.OrEmpty()));

    private void Add(WorkGap gap) => (_gaps ??= ImmutableArray.CreateBuilder<WorkGap>()).Add(gap);
}
