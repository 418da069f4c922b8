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

    // A void record hides what happened, unless another one of the same step tells.
    private static void AddVoided(UnitHistory history, List<MissingStep> missing)
    {
        foreach (var track in history.Tracks)
        {
            if (track.Attempts.Count > 0)
            {
                continue;
            }

            foreach (var attempt in track.Voided)
            {
                if (attempt.Step is not null && attempt.Epoch.HasStep(history, attempt.Index))
                {
                    missing.Add(new(GapReason.Voided, attempt.Epoch, attempt.Index, attempt, attempt.Id, attempt.Earliest, attempt.Latest));
                }
            }
        }
    }

    // Steps of the effective revision that must have been done by now, or may have been by a record that can't be read.
    private static void AddUnrecorded(UnitHistory history, List<MissingStep> missing)
    {
        var epoch = history.Current;
        if (epoch.Revision is not { } revision || history.OpenedAt is not { } openedAt)
        {
            return;
        }

        var by = NeededBy(history, epoch, revision);
        var unreadable = history.Unreadable.Count > 0 ? history.Unreadable[0] : history.UnreadableOfBatch;
        if (by is null && unreadable is null)
        {
            return;
        }

        var from = history.BeganAt ?? openedAt;
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
                missing.Add(new(GapReason.Unreadable, epoch, i, null, unreadable.Id, history.Opening is null ? DateTimeOffset.MinValue : from, null));
            }
            else if (by![i] > DateTimeOffset.MinValue && history.LastDone(epoch, i, DateTimeOffset.MaxValue) is null)
            {
                missing.Add(new(GapReason.StepNotRecorded, epoch, i, null, Guid.Empty, from, by[i]));
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
