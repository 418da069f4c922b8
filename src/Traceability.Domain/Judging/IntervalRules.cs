using System.Runtime.InteropServices;
using Traceability.Domain.Facts;
using Traceability.Domain.Primitives;
using Traceability.Domain.Routings;

namespace Traceability.Domain.Judging;

/// <summary>Intervals: the time between two milestones, with the uncertainty of both clocks.</summary>
internal static class IntervalRules
{
    /// <summary>Judges the rules that end at an attempt.</summary>
    public static void Judge(UnitHistory history, Attempt attempt, FindingSink sink)
    {
        var epoch = attempt.Epoch;
        foreach (var rule in epoch.Revision!.IntervalsTo[attempt.Index])
        {
            if (!Holds(history, epoch, rule))
            {
                continue;
            }

            attempt.Opportunities++;
            if (JudgeEnd(history, epoch, rule, Milestones.In(history, attempt, rule.Rule.To), attempt, attempt.Record.Station) is { } found)
            {
                attempt.IsUnproven |= found.Kind is FindingKinds.IntervalUndetermined or FindingKinds.IntervalStartNotRecorded;
                sink.Add(attempt, found.Kind, rule.Rule.Code.ToString(), rule.Rule.Policy, found.Message, found.Evidence);
            }
        }
    }

    /// <summary>Judges the rules that end at the start of a step that is not completed.</summary>
    public static void JudgePending(UnitHistory history, FindingSink sink)
    {
        var epoch = history.Current;
        if (epoch.Revision is not { } revision)
        {
            return;
        }

        foreach (var rule in revision.Intervals)
        {
            if (rule.Rule.To.Kind == MilestoneKind.Started && epoch.Tracks[rule.To]?.PendingStart is { } start && Holds(history, epoch, rule)
                && JudgeEnd(history, epoch, rule, Milestones.Of(start), null, start.Fact.Station) is { } found)
            {
                sink.Add(start, rule.Rule.To.Step, found.Kind, rule.Rule.Code.ToString(), rule.Rule.Policy, found.Message, found.Evidence);
            }
        }
    }

    /// <summary>Whether the rule holds for the unit.</summary>
    public static bool Holds(UnitHistory history, Epoch epoch, IndexedInterval rule) =>
        epoch.HasStep(history, rule.From) && epoch.HasStep(history, rule.To) && history.Applies(rule.Rule.AppliesTo);

    /// <summary>Intervals that have started and not ended.</summary>
    public static ImmutableArray<OpenInterval> Open(UnitHistory history)
    {
        var epoch = history.Current;
        if (epoch.Revision is not { } revision)
        {
            return [];
        }

        ImmutableArray<OpenInterval>.Builder? open = null;
        foreach (var rule in revision.Intervals)
        {
            if (epoch.Tracks[rule.From] is not null && Holds(history, epoch, rule)
                && Milestones.FindStart(history, epoch, rule, new(DateTimeOffset.MaxValue, TimeSpan.Zero, Guid.Empty), null, out var start) == StartState.Known
                && !HasEnded(history, epoch, rule, start))
            {
                open ??= ImmutableArray.CreateBuilder<OpenInterval>();
                open.Add(Open(history, epoch, rule, start));
            }
        }

        return open?.ToImmutable() ?? [];
    }

    private static OpenInterval Open(UnitHistory history, Epoch epoch, IndexedInterval rule, Moment start)
    {
        var forecast = rule.Rule.Temperature is null ? null : CureRules.Forecast(history, epoch, rule, start);
        var limits = rule.Rule.OpenTimeOf is null ? null : OpenTimeRules.Limits(history, epoch, rule, start);
        return new(
            rule.Rule.Code,
            rule.Rule.Name,
            rule.Rule.From.Step,
            rule.Rule.To.Step,
            start.At,
            start.Uncertainty,
            forecast is not null ? forecast.ReadyAt : rule.Rule.Minimum is { } minimum ? Instant.Shift(start.At, minimum) : null,
            limits is not null ? limits.Forecast.ReadyAt : rule.Rule.Maximum is { } maximum ? Instant.Shift(start.At, maximum) : null,
            rule.Rule.Policy ?? Policies.Interval)
        {
            Assumption = (forecast ?? limits?.Forecast)?.Assumption,
            AssumedUntil = (forecast ?? limits?.Forecast)?.AssumedUntil,
            MayBeOverdueAt = limits?.MayBeOverAt,
            SurelyOverdueAt = limits?.SurelyOverAt,
        };
    }

    private static bool HasEnded(UnitHistory history, Epoch epoch, IndexedInterval rule, Moment start)
    {
        if (epoch.Tracks[rule.To] is not { } track)
        {
            return false;
        }

        for (var i = track.Attempts.Count - 1; i >= 0; i--)
        {
            var attempt = track.Attempts[i];
            if (!history.Counts(attempt, epoch))
            {
                continue;
            }

            // An end that isn't recorded lies somewhere before the completion.
            var end = Milestones.In(history, attempt, rule.Rule.To) ?? new(attempt.At, attempt.Uncertainty, attempt.Id);
            if (Ends(end, attempt))
            {
                return true;
            }
        }

        return rule.Rule.To.Kind == MilestoneKind.Started && track.PendingStart is { } pending && Ends(Milestones.Of(pending), null);

        bool Ends(Moment end, Attempt? attempt) =>
            end.At >= start.At
            || (end.At >= Instant.Shift(start.At, -Instant.Sum(start.Uncertainty, end.Uncertainty))
                && Milestones.FindStart(history, epoch, rule, end, attempt, out var counted) == StartState.Known
                && counted == start);
    }

    /// <summary>The intervals that have ended, for a unit that could not be judged: how long they were, without a verdict.</summary>
    public static ImmutableArray<IntervalResult> WithoutVerdict(UnitHistory history)
    {
        List<IntervalResult> results = [];
        foreach (var attempt in history.Attempts)
        {
            foreach (var rule in attempt.Index < 0 ? [] : attempt.Epoch.Revision!.IntervalsTo[attempt.Index])
            {
                if (Holds(history, attempt.Epoch, rule)
                    && Measure(history, attempt.Epoch, rule, Milestones.In(history, attempt, rule.Rule.To), attempt) is { } ended)
                {
                    results.Add(ResultOf(rule, ended, attempt, attempt.Record.Station, IntervalVerdict.Undetermined));
                }
            }
        }

        return [.. results];
    }

    private static Found? JudgeEnd(UnitHistory history, Epoch epoch, IndexedInterval rule, Moment? known, Attempt? attempt, StationCode? station)
    {
        if (Measure(history, epoch, rule, known, attempt) is not { } ended)
        {
            return null;
        }

        var end = ended.End;
        if (ended.Start is not { } start)
        {
            Note(history, ResultOf(rule, ended, attempt, station, IntervalVerdict.Undetermined));
            return NotRecorded(rule, end);
        }

        var elapsed = end.At - start.At;
        var uncertainty = Instant.Sum(start.Uncertainty, end.Uncertainty);
        var cure = rule.Rule.Temperature is null ? null : CureRules.Judge(history, epoch, rule, start, end);
        var open = rule.Rule.OpenTimeOf is null ? null : OpenTimeRules.Judge(history, epoch, rule, start, end);
        var verdict = cure is null && open is null
            ? IntervalVerdicts.Judge(elapsed, uncertainty, rule.Rule.Minimum, rule.Rule.Maximum)
            : IntervalVerdicts.Both(
                cure?.Verdict ?? IntervalVerdicts.Judge(elapsed, uncertainty, rule.Rule.Minimum, null),
                open?.Verdict ?? IntervalVerdicts.Judge(elapsed, uncertainty, null, rule.Rule.Maximum));
        if (known is null)
        {
            // It ended somewhere up to the completion: too short stays too short, and only a kept maximum stays kept.
            verdict = verdict == IntervalVerdict.TooShort || (verdict == IntervalVerdict.Kept && rule.Rule.Minimum is null && cure is null)
                ? verdict
                : IntervalVerdict.Undetermined;
        }

        Note(history, ResultOf(rule, ended, attempt, station, verdict));
        return verdict == IntervalVerdict.Kept ? null : Broken(rule, verdict, start, end, elapsed, uncertainty, known is not null, cure, open);
    }

    // Where an interval started and ended; null where there is none.
    private static Ended? Measure(UnitHistory history, Epoch epoch, IndexedInterval rule, Moment? known, Attempt? attempt)
    {
        var end = known ?? new(attempt!.At, attempt.Uncertainty, attempt.Id);
        var state = Milestones.FindStart(history, epoch, rule, end, attempt, out var start);
        if (state == StartState.Known)
        {
            return new(start, end, known is not null);
        }

        // Between two attempts at one step there is nothing to judge before the second.
        return rule.From == rule.To && state == StartState.NotDone && attempt is not null && Milestones.In(history, attempt, rule.Rule.From) is not null
            ? null
            : new(null, end, known is not null);
    }

    private static IntervalResult ResultOf(IndexedInterval rule, Ended ended, Attempt? attempt, StationCode? station, IntervalVerdict verdict)
    {
        TimeSpan? least = null;
        TimeSpan? most = null;
        if (ended.Start is { } start)
        {
            var range = IntervalVerdicts.Range(ended.End.At - start.At, Instant.Sum(start.Uncertainty, ended.End.Uncertainty));

            // Where the end isn't recorded it was some time before the completion.
            least = ended.IsEndKnown ? range.Least : null;
            most = range.Most;
        }

        return new(
            rule.Rule.Code, rule.Rule.From.Step, rule.Rule.To.Step, ended.Start?.Record, attempt?.Id ?? ended.End.Record, least, most, verdict, ended.End.At, station);
    }

    private static void Note(UnitHistory history, IntervalResult result) => (history.IntervalResults ??= []).Add(result);

    private static Found NotRecorded(IndexedInterval rule, Moment end) => new(
        FindingKinds.IntervalStartNotRecorded,
        $"{rule.Rule.Name}: the start ({Name(rule.Rule.From)}) is not recorded, so the interval can't be judged.",
        [("end", Say.Time(end.At))]);

    private static Found Broken(
        IndexedInterval rule, IntervalVerdict verdict, Moment start, Moment end, TimeSpan elapsed, TimeSpan uncertainty, bool isEndKnown, CureJudgement? cure, LifeJudgement? open)
    {
        var (kind, what) = verdict switch
        {
            IntervalVerdict.TooShort => (FindingKinds.IntervalTooShort, "shorter than the minimum"),
            IntervalVerdict.TooLong => (FindingKinds.IntervalTooLong, "longer than the maximum"),
            _ when !isEndKnown => (FindingKinds.IntervalUndetermined, "not judged, since its end is not recorded"),
            _ when cure is { IsByDose: true } || open is { IsByDose: true } => (FindingKinds.IntervalUndetermined, "not certain to keep the rule by what was read of the temperature and by the clocks"),
            _ => (FindingKinds.IntervalUndetermined, "too close to a limit for the clocks' uncertainty"),
        };
        var minimum = cure is null ? Text("minimum", rule.Rule.Minimum) : $"minimum {cure.Minimum}";
        var limits = string.Join(", ", new[] { minimum, open is null ? Text("maximum", rule.Rule.Maximum) : $"maximum {open.Limit}" }.OfType<string>());
        return new(
            kind,
            $"{rule.Rule.Name}: {Say.Span(elapsed)} from {Name(rule.Rule.From)} to {Name(rule.Rule.To)} is {what} ({limits}).{cure?.Said}{open?.Said}",
            [
                ("start", Say.Time(start.At)),
                ("end", Say.Time(end.At)),
                ("elapsed", Say.Duration(elapsed)),
                ("uncertainty", Say.Duration(uncertainty)),
                ("minimum", cure is not null ? cure.Minimum : rule.Rule.Minimum is { } min ? Say.Duration(min) : "none"),
                ("maximum", open is { IsByDose: true } ? open.Limit : rule.Rule.Maximum is { } max ? Say.Duration(max) : "none"),
                ("started-by", start.Record.ToString()),
                .. cure?.Evidence ?? [],
                .. open?.Evidence ?? [],
            ]);
    }

    private static string? Text(string name, TimeSpan? limit) => limit is { } span ? $"{name} {Say.Span(span)}" : null;

    private static string Name(Milestone milestone) => milestone.Kind switch
    {
        MilestoneKind.Started => $"start of {milestone.Step}",
        MilestoneKind.Completed => $"completion of {milestone.Step}",
        MilestoneKind.Mark => $"{milestone.Name} at {milestone.Step}",
        _ => $"opening of the container for {milestone.Name?.ToString() ?? "the material"} at {milestone.Step}",
    };

    [StructLayout(LayoutKind.Auto)]
    private readonly record struct Ended(Moment? Start, Moment End, bool IsEndKnown);

    private sealed record Found(string Kind, string Message, (string Name, string Text)[] Evidence);
}
