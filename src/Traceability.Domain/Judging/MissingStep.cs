using Traceability.Domain.Facts;
using Traceability.Domain.Routings;

namespace Traceability.Domain.Judging;

/// <summary>A step that must have been done, or may have been, and of which no record that counts tells. In doubt it is missing.</summary>
/// <param name="Reason">Why: never <see cref="GapReason.NotRecorded"/>.</param>
/// <param name="Epoch">The revision that has the step.</param>
/// <param name="Index">Its place there.</param>
/// <param name="Voided">The void record of it; null if there is none.</param>
/// <param name="Record">The fact that should tell; empty if there is none.</param>
/// <param name="From">The earliest time that it can have been done.</param>
/// <param name="To">The latest; null: until now.</param>
internal sealed record MissingStep(
    GapReason Reason, Epoch Epoch, int Index, Attempt? Voided, Guid Record, DateTimeOffset From, DateTimeOffset? To)
{
    public Step Step => Epoch.Revision!.Steps[Index];

    /// <summary>All of a unit; none for almost every one.</summary>
    public static List<MissingStep> Of(UnitHistory history)
    {
        List<MissingStep> missing = [];
        AddVoided(history, missing);
        AddUnrecorded(history, missing);
        return missing;
    }

    // A void record hides what happened, unless another one of the same step under the same revision tells.
    private static void AddVoided(UnitHistory history, List<MissingStep> missing)
    {
        foreach (var track in history.Tracks)
        {
            foreach (var attempt in track.Voided)
            {
                if (attempt.Step is not null && !track.Attempts.Exists(a => a.Epoch == attempt.Epoch) && attempt.Epoch.HasStep(history, attempt.Index))
                {
                    missing.Add(new(GapReason.Voided, attempt.Epoch, attempt.Index, attempt, attempt.Id, attempt.Earliest, attempt.Latest));
                }
            }
        }
    }

    // Steps that must have been done by now, or may have been by a record that can't be read: under the effective revision, and under
    // those that the unit was moved away from, since what was done before a move stays done.
    private static void AddUnrecorded(UnitHistory history, List<MissingStep> missing)
    {
        if (history.OpenedAt is not { } openedAt)
        {
            return;
        }

        var unreadable = history.Unreadable.Count > 0 ? history.Unreadable[0] : history.UnreadableOfBatch;
        for (var e = history.Epochs.Count - 1; e >= 0; e--)
        {
            if (history.Epochs[e].Revision is { } revision)
            {
                AddUnrecorded(history, history.Epochs[e], revision, history.BeganAt ?? openedAt, unreadable, missing);
            }
        }
    }

    private static void AddUnrecorded(
        UnitHistory history, Epoch epoch, RevisionIndex revision, DateTimeOffset from, EffectiveFact? unreadable, List<MissingStep> missing)
    {
        var by = NeededBy(history, epoch, revision);
        if (epoch != history.Current)
        {
            AddCarried(history.Epochs[epoch.Number + 1], revision, missing, ref by);
        }

        if (by is null && unreadable is null)
        {
            return;
        }

        for (var i = 0; i < revision.Steps.Length; i++)
        {
            if (!epoch.HasStep(history, i))
            {
                continue;
            }

            if (unreadable is not null)
            {
                // It may be a further attempt at a step that is recorded. When it happened can't be read either, so it may have
                // been at any time since the unit was opened.
                missing.Add(new(GapReason.Unreadable, epoch, i, null, unreadable.Id, from, null));
            }
            else if (by![i] > DateTimeOffset.MinValue && history.LastDone(epoch, i, DateTimeOffset.MaxValue) is null)
            {
                missing.Add(new(GapReason.StepNotRecorded, epoch, i, null, Guid.Empty, from, by[i]));
            }
        }
    }

    // What a move carried over and is missing after it was done before it, as the revision before it asks.
    private static void AddCarried(Epoch next, RevisionIndex revision, List<MissingStep> missing, ref DateTimeOffset[]? by)
    {
        foreach (var step in missing)
        {
            if (step.Reason == GapReason.StepNotRecorded && step.Epoch == next && next.CarriesOver.Contains(step.Step.Code)
                && revision.IndexOf(step.Step.Code) is var i and >= 0)
            {
                by ??= new DateTimeOffset[revision.Steps.Length];
                var latest = step.To < next.From ? step.To.Value : next.From.ToUniversalTime();
                by[i] = latest > by[i] ? latest : by[i];
            }
        }
    }

    // For each step the last moment by which it must have been done: a later step that needs it, a release, a shipment.
    private static DateTimeOffset[]? NeededBy(UnitHistory history, Epoch epoch, RevisionIndex revision)
    {
        DateTimeOffset[]? by = null;
        for (var i = 0; i < revision.Steps.Length; i++)
        {
            if (revision.Needed[i].Length > 0 && history.LastDone(epoch, i, DateTimeOffset.MaxValue) is { } last)
            {
                by ??= new DateTimeOffset[revision.Steps.Length];
                foreach (var needed in revision.Needed[i])
                {
                    by[needed] = last.Latest > by[needed] ? last.Latest : by[needed];
                }
            }
        }

        foreach (var departure in history.Departures)
        {
            // The effective revision is asked of every departure, one that was left of those under it.
            if (epoch != history.Current && history.EpochAt(departure.At) != epoch)
            {
                continue;
            }

            by ??= new DateTimeOffset[revision.Steps.Length];
            var at = Instant.Shift(departure.At, UnitHistory.UncertaintyOf(departure)).ToUniversalTime();
            for (var i = 0; i < by.Length; i++)
            {
                by[i] = at > by[i] ? at : by[i];
            }
        }

        return by;
    }
}
