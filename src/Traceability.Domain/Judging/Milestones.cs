using System.Runtime.InteropServices;
using Traceability.Domain.Facts;
using Traceability.Domain.Primitives;
using Traceability.Domain.Routings;

namespace Traceability.Domain.Judging;

/// <summary>A moment that an interval starts or ends at.</summary>
[StructLayout(LayoutKind.Auto)]
internal readonly record struct Moment(DateTimeOffset At, TimeSpan Uncertainty, Guid Record);

/// <summary>What was found of the start of an interval.</summary>
internal enum StartState
{
    /// <summary>The step that starts it was not done.</summary>
    NotDone,

    /// <summary>The step was done; when the interval started is not recorded.</summary>
    NotRecorded,

    /// <summary>Known.</summary>
    Known,
}

/// <summary>Finds the moments that interval rules refer to.</summary>
internal static class Milestones
{
    /// <summary>The moment in an attempt; null where it isn't recorded.</summary>
    public static Moment? In(UnitHistory history, Attempt attempt, Milestone milestone) => milestone.Kind switch
    {
        MilestoneKind.Completed => new(attempt.At, attempt.Uncertainty, attempt.Id),
        MilestoneKind.Started => attempt.StartedAt is { } at ? new(at, attempt.StartUncertainty, attempt.Id) : null,
        MilestoneKind.Mark => Mark(attempt, milestone.Name),
        MilestoneKind.ContainerOpened => Opening(history, attempt, milestone.Name),
        _ => null,
    };

    /// <summary>
    /// The start that counts for an end: the last at or before it, or, if none, the first within the uncertainty after it.
    /// A later attempt whose own moment isn't recorded started the interval anew, so an older one doesn't stand in for it.
    /// </summary>
    /// <param name="history">The unit.</param>
    /// <param name="epoch">The revision that the end is judged by.</param>
    /// <param name="rule">The rule.</param>
    /// <param name="end">The end.</param>
    /// <param name="endAttempt">The attempt that ends it; null for a start that isn't completed.</param>
    /// <param name="start">The start, if known.</param>
    public static StartState FindStart(UnitHistory history, Epoch epoch, IndexedInterval rule, Moment end, Attempt? endAttempt, out Moment start)
    {
        start = default;
        if (epoch.Tracks[rule.From] is not { } track)
        {
            return StartState.NotDone;
        }

        var reported = rule.Rule.From.Kind == MilestoneKind.Started ? LastReported(track, end.At) : null;
        Moment? after = null;
        for (var i = track.Attempts.Count - 1; i >= 0; i--)
        {
            var attempt = track.Attempts[i];
            if (!history.Counts(attempt, epoch))
            {
                continue;
            }

            var isOver = attempt.At <= end.At || attempt == endAttempt;
            var moment = In(history, attempt, rule.Rule.From);
            if (moment is not { } known)
            {
                if (!isOver)
                {
                    continue;
                }

                return reported is { } later && later.At > attempt.At ? Found(later, out start) : StartState.NotRecorded;
            }

            if (known.At <= end.At && (isOver || rule.Rule.From.Kind != MilestoneKind.ContainerOpened))
            {
                return Found(reported is { } later && later.At > known.At ? later : known, out start);
            }

            if (known.At > end.At && known.At <= Instant.Shift(end.At, Instant.Sum(known.Uncertainty, end.Uncertainty)))
            {
                after = known;
            }
        }

        var found = reported ?? after;
        return found is { } last ? Found(last, out start) : StartState.NotDone;
    }

    private static StartState Found(Moment moment, out Moment start)
    {
        start = moment;
        return StartState.Known;
    }

    private static Moment? LastReported(StepTrack track, DateTimeOffset by)
    {
        for (var i = track.Starts.Count - 1; i >= 0; i--)
        {
            if (track.Starts[i].At <= by)
            {
                return Of(track.Starts[i]);
            }
        }

        return null;
    }

    /// <summary>The moment of a reported start.</summary>
    public static Moment Of(EffectiveFact fact) => new(fact.At.ToUniversalTime(), UnitHistory.UncertaintyOf(fact), fact.Id);

    private static Moment? Mark(Attempt attempt, Code? name)
    {
        Moment? last = null;
        foreach (var mark in attempt.Record.Marks.OrEmpty())
        {
            var at = Instant.Shift(mark.At, attempt.Source.Fact.Clock.Offset).ToUniversalTime();
            if (mark.Name == name && (last is not { } known || at > known.At))
            {
                last = new(at, attempt.Uncertainty, attempt.Id);
            }
        }

        return last;
    }

    // The opening of the container that was used for the requirement; of several lots it isn't known which was.
    private static Moment? Opening(UnitHistory history, Attempt attempt, Code? requirement)
    {
        var uses = attempt.Record.Materials.OrEmpty();
        if (uses.IsEmpty || attempt.Step is not { } step)
        {
            return null;
        }

        var serves = attempt.Serves(history);
        Moment? first = null;
        for (var u = 0; u < uses.Length; u++)
        {
            if (uses[u].Container is not { } container || serves[u] < 0
                || (requirement is { } asked && step.Materials[serves[u]].Code != asked))
            {
                continue;
            }

            var lots = MaterialRules.LotsOf(uses[u]);
            if (lots.Length != 1 || history.References.FindLot(new(uses[u].Item, lots[0]))?.Opening(container) is not { } opening)
            {
                return null;
            }

            var moment = Of(opening);
            first = first is { } known && known.At <= moment.At ? first : moment;
        }

        return first;
    }
}
