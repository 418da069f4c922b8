using Traceability.Domain.Facts;
using Traceability.Domain.Primitives;
using Traceability.Domain.ProductUnits;

namespace Traceability.Domain.Judging;

/// <summary>Where a unit stands, from its facts in order.</summary>
internal struct StatusFold
{
    private Place _base;
    private StandingHolds _holds;
    private Place _place;
    private StepCode? _step;
    private StepCode? _shownStep;
    private DateTimeOffset? _since;
    private string? _consignee;
    private EffectiveFact? _end;

    public static UnitStatus Of(UnitHistory history, SiteCalendar calendar)
    {
        var fold = default(StatusFold);
        fold._since = history.OpenedAt;
        foreach (var fact in history.Facts)
        {
            if (!fact.IsVoided)
            {
                fold.Take(fact);
            }
        }

        var endedAt = fold._end?.At.ToUniversalTime();
        return new(
            history.Variant,
            history.Options,
            history.Lot,
            history.Opening?.At.ToUniversalTime(),
            history.Current.Revision?.Revision.Revision,
            fold._place,
            fold._shownStep,
            fold._since,
            fold._place == Place.Shipped ? fold._consignee : null,
            endedAt,
            fold._end is { } end ? calendar.DayOf(end.At, end.Fact.Station) : null,
            endedAt is { } at && PassedFirstTime(history, at),
            history.Unreadable.Count > 0)
        {
            Holds = fold._holds.Text,
        };
    }

    private static bool PassedFirstTime(UnitHistory history, DateTimeOffset endedAt)
    {
        var epoch = history.Current;
        if (epoch.Revision is not { } revision)
        {
            return false;
        }

        for (var i = 0; i < revision.Steps.Length; i++)
        {
            if (epoch.HasStep(history, i) && !PassedFirstTime(epoch.Tracks[i], endedAt))
            {
                return false;
            }
        }

        return true;
    }

    // What was done after the unit had ended (a repair of a returned one) doesn't restate how it was built.
    private static bool PassedFirstTime(StepTrack? track, DateTimeOffset endedAt)
    {
        if (track is null || track.Attempts.Count == 0 || track.Attempts[0].At > endedAt || !track.Attempts[0].IsPassed)
        {
            return false;
        }

        foreach (var attempt in track.Attempts)
        {
            if (attempt.Record.IsRework && attempt.At <= endedAt)
            {
                return false;
            }
        }

        return true;
    }

    private void Take(EffectiveFact fact)
    {
        switch (fact.Fact)
        {
            case StepStarted started:
                WorkOn(started.Step);
                break;
            case StepCompleted completed:
                WorkOn(completed.Step);
                break;
            case UnitHeld or UnitHoldLifted:
                _holds.Take(fact.Fact);
                break;
            case UnitReleased when _base != Place.Scrapped:
                _base = Place.InStock;
                _end ??= fact;
                break;
            case UnitScrapped:
                _base = Place.Scrapped;
                _end ??= fact;
                break;
            case UnitShipped shipped when _base != Place.Scrapped:
                _base = Place.Shipped;
                _consignee = shipped.Consignee;
                break;
            case UnitReturned when _base != Place.Scrapped:
                _base = Place.Returned;
                break;
            default:
                return;
        }

        Show(fact);
    }

    private void WorkOn(StepCode step)
    {
        _step = step;
        _base = _base == Place.Returned ? Place.InProcess : _base;
    }

    // A hold stops what is on site; what has left or is scrap is where it is.
    private void Show(EffectiveFact fact)
    {
        var place = _holds.IsAny && _base is (Place.InProcess or Place.InStock or Place.Returned) ? Place.OnHold : _base;
        var step = _base == Place.InProcess ? _step : null;
        if (place != _place || step != _shownStep)
        {
            _place = place;
            _shownStep = step;
            _since = fact.At.ToUniversalTime();
        }
    }
}
