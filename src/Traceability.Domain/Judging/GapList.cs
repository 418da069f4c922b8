using Traceability.Domain.Facts;
using Traceability.Domain.Primitives;
using Traceability.Domain.Routings;

namespace Traceability.Domain.Judging;

/// <summary>Where a lot, container or serial is required and no record that counts names it. In doubt there is a gap.</summary>
internal sealed class GapList
{
    private readonly UnitHistory _history;
    private ImmutableArray<TraceGap>.Builder? _gaps;

    private GapList(UnitHistory history) => _history = history;

    public static ImmutableArray<TraceGap> Of(UnitHistory history)
    {
        var list = new GapList(history);
        foreach (var attempt in history.Attempts)
        {
            if (attempt.Step is { } step)
            {
                list.Recorded(attempt, step);
            }
        }

        list.Voided();
        list.Unrecorded();
        list.TakenOut();
        return list._gaps?.ToImmutable() ?? [];
    }

    // The step is completed; what its record doesn't name is missing.
    private void Recorded(Attempt attempt, Step step)
    {
        var requirements = step.Materials.OrEmpty();
        for (var r = 0; r < requirements.Length; r++)
        {
            var requirement = requirements[r];
            if (requirement.Tracing == Tracing.None || !_history.Applies(requirement.AppliesTo))
            {
                continue;
            }

            if (!HasLot(attempt, r))
            {
                Add(new(GapKind.Lot, GapReason.NotRecorded, step.Code, attempt.Id, requirement.Code, Accepted(requirement), null, attempt.Earliest, attempt.Latest, attempt.Record.Station));
            }
            else if (requirement.Tracing == Tracing.Container)
            {
                Containers(attempt, step, requirement, r);
            }
        }

        foreach (var requirement in step.Components.OrEmpty())
        {
            if (_history.Applies(requirement.AppliesTo) && _history.Installed.At(requirement.Position, attempt.At) is null)
            {
                Serial(GapReason.NotRecorded, step, requirement, attempt.Id, attempt.Earliest, attempt.At, attempt.Latest, attempt.Record.Station);
            }
        }
    }

    private bool HasLot(Attempt attempt, int requirement)
    {
        var serves = attempt.Serves(_history);
        for (var u = 0; u < serves.Length; u++)
        {
            if (serves[u] == requirement && !MaterialRules.LotsOf(attempt.Record.Materials[u]).IsEmpty)
            {
                return true;
            }
        }

        return false;
    }

    private void Containers(Attempt attempt, Step step, MaterialRequirement requirement, int r)
    {
        var serves = attempt.Serves(_history);
        for (var u = 0; u < serves.Length; u++)
        {
            var use = attempt.Record.Materials[u];
            if (serves[u] != r || use.Container is not null)
            {
                continue;
            }

            foreach (var lot in MaterialRules.LotsOf(use))
            {
                Add(new(GapKind.Container, GapReason.NotRecorded, step.Code, attempt.Id, requirement.Code, [use.Item], new LotKey(use.Item, lot), attempt.Earliest, attempt.Latest, attempt.Record.Station));
            }
        }
    }

    // A void record hides what happened, unless another one of the same step tells.
    private void Voided()
    {
        foreach (var track in _history.Tracks)
        {
            if (track.Attempts.Count > 0)
            {
                continue;
            }

            foreach (var attempt in track.Voided)
            {
                if (attempt.Step is { } step && attempt.Epoch.HasStep(_history, attempt.Index))
                {
                    Whole(GapReason.Voided, step, attempt.Id, attempt.Earliest, attempt.Latest, attempt.Record.Station);
                }
            }
        }
    }

    // Steps of the effective revision that must have been done by now, or may have been by a record that can't be read.
    private void Unrecorded()
    {
        var epoch = _history.Current;
        if (epoch.Revision is not { } revision || _history.OpenedAt is not { } openedAt)
        {
            return;
        }

        var by = NeededBy(epoch, revision);
        var unreadable = _history.Unreadable.Count > 0 ? _history.Unreadable[0] : _history.UnreadableOfBatch;
        if (by is null && unreadable is null)
        {
            return;
        }

        var from = _history.BeganAt ?? openedAt;
        for (var i = 0; i < revision.Steps.Length; i++)
        {
            if (!epoch.HasStep(_history, i))
            {
                continue;
            }

            if (unreadable is not null)
            {
                // It may be a further attempt at a step that is recorded. When it happened can't be read either, so it may have
                // been at any time since the unit was opened.
                Whole(GapReason.Unreadable, revision.Steps[i], unreadable.Id, _history.Opening is null ? DateTimeOffset.MinValue : from, null, null);
            }
            else if (by![i] > DateTimeOffset.MinValue && _history.LastDone(epoch, i, DateTimeOffset.MaxValue) is null)
            {
                Whole(GapReason.StepNotRecorded, revision.Steps[i], Guid.Empty, from, by[i], null);
            }
        }
    }

    // For each step the last moment by which it must have been done: a later step that needs it, a release, a shipment.
    private DateTimeOffset[]? NeededBy(Epoch epoch, RevisionIndex revision)
    {
        DateTimeOffset[]? by = null;
        for (var i = 0; i < revision.Steps.Length; i++)
        {
            if (revision.Needed[i].Length > 0 && _history.LastDone(epoch, i, DateTimeOffset.MaxValue) is { } last)
            {
                by ??= new DateTimeOffset[revision.Steps.Length];
                foreach (var needed in revision.Needed[i])
                {
                    by[needed] = last.Latest > by[needed] ? last.Latest : by[needed];
                }
            }
        }

        foreach (var departure in _history.Departures)
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

    // A component was taken out of a required position, nothing is recorded to have taken its place, and the unit left.
    private void TakenOut()
    {
        if (_history.Departures.Count == 0 || _history.Current.Revision is not { } revision)
        {
            return;
        }

        var left = _history.Departures[^1].At;
        foreach (var fitted in _history.Installed.Fitted)
        {
            if (fitted.To is { } to && to < left && fitted.DisplacedBy is null
                && revision.FindPosition(fitted.Position) is { } place
                && _history.Applies(place.Step.AppliesTo) && _history.Applies(place.Requirement.AppliesTo)
                && !IsFilledAgain(fitted, to))
            {
                Serial(GapReason.NotRecorded, place.Step, place.Requirement, fitted.Ended!.Id, to, to, left, null);
            }
        }
    }

    private bool IsFilledAgain(Fitted removed, DateTimeOffset at)
    {
        foreach (var other in _history.Installed.Fitted)
        {
            if (other != removed && other.Position == removed.Position && other.From >= at)
            {
                return true;
            }
        }

        return false;
    }

    // Everything that the step requires.
    private void Whole(GapReason reason, Step step, Guid record, DateTimeOffset from, DateTimeOffset? to, StationCode? station)
    {
        foreach (var requirement in step.Materials.OrEmpty())
        {
            if (requirement.Tracing != Tracing.None && _history.Applies(requirement.AppliesTo))
            {
                Add(new(GapKind.Lot, reason, step.Code, record, requirement.Code, Accepted(requirement), null, from, to, station));
            }
        }

        foreach (var requirement in step.Components.OrEmpty())
        {
            if (_history.Applies(requirement.AppliesTo) && _history.Installed.At(requirement.Position, to ?? DateTimeOffset.MaxValue) is null)
            {
                Serial(reason, step, requirement, record, from, from, to, station);
            }
        }
    }

    // Something was put in there between these times, and before whatever is recorded there next.
    private void Serial(
        GapReason reason, Step step, ComponentRequirement requirement, Guid record, DateTimeOffset from, DateTimeOffset after, DateTimeOffset? by, StationCode? station)
    {
        var to = by;
        if (_history.Installed.FirstAfter(requirement.Position, after) is { } next)
        {
            var replaced = Instant.Shift(next.From, UnitHistory.UncertaintyOf(next.Source));
            to = to is { } latest && latest < replaced ? latest : replaced;
        }

        Add(new(GapKind.Serial, reason, step.Code, record, requirement.Position, Accepted(requirement, to), null, from, to, station));
    }

    // Whatever the revision: one that may be put in there could be.
    private ImmutableArray<ItemNumber> Accepted(ComponentRequirement requirement, DateTimeOffset? to)
    {
        var replacements = _history.References.FindRouting(_history.Unit.Key.Item)?.Replacements ?? [];
        ImmutableArray<ItemNumber> named = [requirement.Item, .. requirement.Alternatives.OrEmpty()];
        return replacements.IsEmpty
            ? named
            : [.. named.Concat(replacements.Where(r => r.Concerns(requirement) && (to is not { } by || r.From <= by)).Select(r => r.With)).Distinct()];
    }

    private static ImmutableArray<ItemNumber> Accepted(MaterialRequirement requirement) =>
        [requirement.Item, .. requirement.Alternatives.OrEmpty()];

    private void Add(TraceGap gap) => (_gaps ??= ImmutableArray.CreateBuilder<TraceGap>()).Add(gap);
}
