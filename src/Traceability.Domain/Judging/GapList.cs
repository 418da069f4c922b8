using Traceability.Domain.Batches;
using Traceability.Domain.Facts;
using Traceability.Domain.Primitives;
using Traceability.Domain.ProductUnits;
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
        list.OwnLot();
        foreach (var attempt in history.Attempts)
        {
            if (attempt.Step is { } step)
            {
                list.Recorded(attempt, step);
            }
        }

        foreach (var missing in history.MissingSteps)
        {
            list.Whole(missing.Reason, missing.Step, missing.Record, missing.From, missing.To, missing.Voided?.Record.Station);
        }

        list.UnknownComponents();
        list.TakenOut();
        list.TakenOutUnrecorded();
        return list._gaps?.ToImmutable() ?? [];
    }

    // The lot that the unit itself came in. What is built here came in none, unless a record says so.
    private void OwnLot()
    {
        var opening = _history.BestOpening;
        var isBought = _history.References.FindRouting(_history.Unit.Key.Item) is not { Released: not [] };
        if (isBought && (_history.Unreadable.Count > 0 ? _history.Unreadable[0] : _history.UnreadableOfBatch) is { } unreadable)
        {
            // It may be a correction of the one that says so.
            OwnLot(GapReason.Unreadable, unreadable.Id, null);
        }
        else if (opening is { IsVoided: true, Fact: UnitOpened voided } && (isBought || (voided.Lot is { } lot && lot != default)))
        {
            OwnLot(GapReason.Voided, opening.Id, null);
        }
        else if (isBought && _history.Lot is null && _history.Forming is not { Fact: BatchFormed { Lot: not null } })
        {
            OwnLot(GapReason.NotRecorded, opening?.Id ?? Guid.Empty, opening is null ? null : Instant.Shift(opening.At, UnitHistory.UncertaintyOf(opening)).ToUniversalTime());
        }
    }

    private void OwnLot(GapReason reason, Guid record, DateTimeOffset? to) =>
        Add(new(GapKind.OwnLot, reason, null, record, null, [_history.Unit.Key.Item], null, DateTimeOffset.MinValue, to, null));

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

    // A component of which nothing is recorded but that it was put in: which lot it came in isn't known, if it was bought.
    private void UnknownComponents()
    {
        foreach (var fitted in _history.Installed.Fitted)
        {
            if (!_history.References.IsRecorded(fitted.Component))
            {
                var uncertainty = UnitHistory.UncertaintyOf(fitted.Source);
                Add(new(
                    GapKind.OwnLot, GapReason.NotRecorded, fitted.Step, fitted.Source.Id, fitted.Position, [fitted.Component.Item], null,
                    Instant.Shift(fitted.From, -uncertainty), Instant.Shift(fitted.From, uncertainty), null));
            }
        }
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

    // Something was taken out of a required position, and no record tells that it had been put in.
    private void TakenOutUnrecorded()
    {
        foreach (var removal in _history.Installed.StrayRemovals)
        {
            var position = ((ComponentRemoved)removal.Fact).Position;
            if (_history.EpochAt(removal.At).Revision?.FindPosition(position) is { } place
                && _history.Applies(place.Step.AppliesTo) && _history.Applies(place.Requirement.AppliesTo))
            {
                Add(new(
                    GapKind.Serial, GapReason.NotRecorded, place.Step.Code, removal.Id, position, Accepted(place.Requirement, removal.At), null,
                    _history.BeganAt ?? removal.At, removal.At.ToUniversalTime(), null));
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
            if (!_history.Applies(requirement.AppliesTo))
            {
                continue;
            }

            if (reason == GapReason.Unreadable)
            {
                // It may have taken out what is recorded there, and put in something else.
                Add(new(GapKind.Serial, reason, step.Code, record, requirement.Position, Accepted(requirement, to), null, from, to, station));
            }
            else if (_history.Installed.At(requirement.Position, to ?? DateTimeOffset.MaxValue) is null)
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
