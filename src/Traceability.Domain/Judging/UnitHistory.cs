using Traceability.Domain.Facts;
using Traceability.Domain.Nonconformances;
using Traceability.Domain.Primitives;
using Traceability.Domain.ProductUnits;
using Traceability.Domain.Routings;

namespace Traceability.Domain.Judging;

/// <summary>A unit's facts laid out for judging: attempts by step, revisions by time. Made anew for every judgement.</summary>
internal sealed partial class UnitHistory
{
    private readonly Dictionary<StepCode, StepTrack> _tracks = [];
    private readonly Routing? _routing;
    private StandingHolds _holds;
    private List<MissingStep>? _missing;

    private UnitHistory(ProductUnit unit, IReferences references)
    {
        Unit = unit;
        References = references;
        Facts = unit.Effective;
        _routing = references.FindRouting(unit.Key.Item);
        Profile();
        JoinBatch();
        var revision = OpenedAt is not { } at ? null
            : IsProfileKnown ? _routing?.EffectiveFor(unit.Key.Serial, Variant, Options, at)
            : _routing?.Released.LastOrDefault();
        Epochs.Add(new(0, revision is null ? null : RevisionIndex.Of(revision), [], DateTimeOffset.MinValue));
        foreach (var fact in Facts)
        {
            Take(fact);
        }

        OrderTies();
        Number();
        Installed = InstallationFold.Of(this);
        Reopenings = NonconformanceFacts is null ? null : Reopening.Of(this);
    }

    public ProductUnit Unit { get; }

    public IReferences References { get; }

    /// <summary>The facts that count, by when they happened; with those of the batch that it was taken out of, as its own.</summary>
    public ImmutableArray<EffectiveFact> Facts { get; private set; }

    /// <summary>The opening that counts; null if none does.</summary>
    public EffectiveFact? Opening { get; private set; }

    public VariantCode? Variant { get; private set; }

    public ImmutableArray<Code> Options { get; private set; } = [];

    /// <summary>The lot that the unit came in, if it was bought.</summary>
    public LotNumber? Lot { get; private set; }

    public DateTimeOffset? OpenedAt { get; private set; }

    /// <summary>Whether any opening tells the variant and options; else every requirement is taken to apply.</summary>
    public bool IsProfileKnown { get; private set; } = true;

    public List<Epoch> Epochs { get; } = [];

    public Epoch Current => Epochs[^1];

    public List<Attempt> Attempts { get; } = [];

    /// <summary>Facts that put components in or out, outside a step's completion.</summary>
    public List<EffectiveFact> ComponentFacts { get; } = [];

    public List<EffectiveFact> Unreadable { get; } = [];

    public List<EffectiveFact> SecondOpenings { get; } = [];

    /// <summary>Moves to a revision that isn't released.</summary>
    public List<EffectiveFact> FailedMoves { get; } = [];

    /// <summary>Releases and shipments.</summary>
    public List<EffectiveFact> Departures { get; } = [];

    /// <summary>Reports of nonconformances, void ones included, and decisions about them; null for none.</summary>
    public List<EffectiveFact>? NonconformanceFacts { get; private set; }

    /// <summary>The steps that dispositions re-opened; null for none.</summary>
    public List<Reopening>? Reopenings { get; }

    /// <summary>Whether it was ever released, shipped or returned.</summary>
    public bool HasMoved { get; private set; }

    /// <summary>Whether the unit is on hold, all its facts told.</summary>
    public bool IsHeld => _holds.IsAny;

    /// <summary>Whether it was released, shipped or scrapped and has not come back.</summary>
    public bool HasEnded { get; private set; }

    /// <summary>What was looked at of temperatures; null while nothing was.</summary>
    public CureLooks? CureLooks { get; set; }

    /// <summary>The intervals that were judged and have ended; null while none was.</summary>
    public List<IntervalResult>? IntervalResults { get; set; }

    /// <summary>Steps that must have been done and of which no record that counts tells.</summary>
    public List<MissingStep> MissingSteps => _missing ??= MissingStep.Of(this);

    public Dictionary<StepCode, StepTrack>.ValueCollection Tracks => _tracks.Values;

    public InstallationFold Installed { get; }

    public static UnitHistory Of(ProductUnit unit, IReferences references) => new(unit, references);

    public static TimeSpan UncertaintyOf(EffectiveFact fact) =>
        fact.Uncertainty > TimeSpan.Zero ? fact.Uncertainty : TimeSpan.Zero;

    /// <summary>Whether something of the routing applies to this unit; if its variant isn't known, everything does.</summary>
    public bool Applies(Effectivity? effectivity)
    {
        if (effectivity is null || !IsProfileKnown)
        {
            return true;
        }

        if (effectivity.Variants.IsDefaultOrEmpty && effectivity.Options.IsDefaultOrEmpty
            && effectivity.SerialFrom is null && effectivity.SerialTo is null
            && effectivity.OpenedFrom is null && effectivity.OpenedBefore is null)
        {
            return true;
        }

        return OpenedAt is { } at && effectivity.AppliesTo(Unit.Key.Serial, Variant, Options, at);
    }

    /// <summary>Whether the attempt counts under that revision: made under it, or carried over to it.</summary>
    public bool Counts(Attempt attempt, Epoch epoch)
    {
        for (var i = attempt.Epoch.Number + 1; i <= epoch.Number; i++)
        {
            if (!Epochs[i].CarriesOver.Contains(attempt.Record.Step))
            {
                return false;
            }
        }

        return attempt.Epoch.Number <= epoch.Number;
    }

    /// <summary>The last attempt at a step of the revision that counts and was completed by that time; null if there is none.</summary>
    public Attempt? LastDone(Epoch epoch, int index, DateTimeOffset by, Attempt? except = null)
    {
        if (epoch.Tracks[index] is { } track)
        {
            for (var i = track.Attempts.Count - 1; i >= 0; i--)
            {
                var attempt = track.Attempts[i];
                if (attempt.At <= by && attempt != except && Counts(attempt, epoch))
                {
                    return attempt;
                }
            }
        }

        return null;
    }

    /// <summary>The same, unless a disposition has re-opened the step since.</summary>
    public Attempt? LastStanding(Epoch epoch, int index, DateTimeOffset by, Attempt? except = null) =>
        LastDone(epoch, index, by, except) is { } last && !(Reopenings is not null && IsReopened(last, by)) ? last : null;

    /// <summary>The revision that held at that time.</summary>
    public Epoch EpochAt(DateTimeOffset at) => Epochs.FindLast(e => e.From <= at) ?? Epochs[0];

    public StepTrack? FindTrack(StepCode step) => _tracks.GetValueOrDefault(step);

    private bool IsReopened(Attempt last, DateTimeOffset by) => Reopenings!.Exists(r => r.Undoes(last, by));

    private void Profile()
    {
        UnitOpened? opened = null;
        foreach (var fact in Facts)
        {
            if (fact.Fact is not UnitOpened candidate)
            {
                continue;
            }

            // A void opening still tells best what the unit is, while nothing else does.
            if (Opening is null)
            {
                opened = candidate;
                BestOpening = fact;
                OpenedAt = fact.At.ToUniversalTime();
                Opening = fact.IsVoided ? null : fact;
            }
            else if (!fact.IsVoided)
            {
                SecondOpenings.Add(fact);
            }
        }

        Variant = opened?.Variant is { } variant && variant != default ? variant : null;
        Lot = Opening is not null && opened?.Lot is { } lot && lot != default ? lot : null;
        Options = opened is null ? [] : opened.Options.OrEmpty();
        IsProfileKnown = opened is not null;
        if (opened is null && Facts.Length > 0)
        {
            OpenedAt = Facts[0].At.ToUniversalTime();
        }
    }

    private void Take(EffectiveFact fact)
    {
        if (fact.Fact is UnreadableFact)
        {
            // A void of something unreadable doesn't tell what it was, so it takes nothing back.
            Unreadable.Add(fact);
            return;
        }

        if (fact.Fact is StepCompleted completed)
        {
            TakeCompletion(fact, completed);
            return;
        }

        if (fact.IsVoided)
        {
            // Whoever decided about it must still find it, with the word that it is gone.
            if (fact.Fact is NonconformanceReported)
            {
                (NonconformanceFacts ??= []).Add(fact);
            }

            return;
        }

        switch (fact.Fact)
        {
            case StepStarted started:
                TrackOf(started.Step).Starts.Add(fact);
                break;
            case ComponentInstalled or ComponentRemoved:
                ComponentFacts.Add(fact);
                break;
            case UnitMovedToRevision moved:
                Move(fact, moved);
                break;
            case UnitHeld or UnitHoldLifted:
                _holds.Take(fact.Fact);
                break;
            case UnitReleased or UnitShipped:
                HasEnded = true;
                HasMoved = true;
                Departures.Add(fact);
                break;
            case UnitScrapped:
                HasEnded = true;
                break;
            case UnitReturned:
                HasEnded = false;
                HasMoved = true;
                break;
            case NonconformanceReported or INonconformanceDecision:
                (NonconformanceFacts ??= []).Add(fact);
                break;
        }
    }

    private void TakeCompletion(EffectiveFact fact, StepCompleted completed)
    {
        var track = TrackOf(completed.Step);
        var attempt = new Attempt(fact, completed, Current, track, Current.Revision?.IndexOf(completed.Step) ?? -1)
        {
            WhileHeld = IsHeld,
            AfterEnd = HasEnded,
        };
        (fact.IsVoided ? track.Voided : Attempts).Add(attempt);
    }

    private void Move(EffectiveFact fact, UnitMovedToRevision moved)
    {
        if (_routing?.FindReleased(moved.Revision) is not { } revision)
        {
            FailedMoves.Add(fact);
            return;
        }

        var epoch = new Epoch(Epochs.Count, RevisionIndex.Of(revision), moved.CarriesOver.OrEmpty(), fact.At);
        Epochs.Add(epoch);
        foreach (var track in _tracks.Values)
        {
            Place(track, epoch);
        }
    }

    private StepTrack TrackOf(StepCode step)
    {
        if (!_tracks.TryGetValue(step, out var track))
        {
            _tracks.Add(step, track = new(step));
            foreach (var epoch in Epochs)
            {
                Place(track, epoch);
            }
        }

        return track;
    }

    private static void Place(StepTrack track, Epoch epoch)
    {
        if (epoch.Revision?.IndexOf(track.Step) is { } index and >= 0)
        {
            epoch.Tracks[index] = track;
        }
    }

    // Of steps that were completed in the same moment, the one that comes first in the routing was first: a tie by id
    // would call one half of them out of order.
    private void OrderTies()
    {
        for (var i = 1; i < Attempts.Count; i++)
        {
            for (var j = i; j > 0 && IsOutOfOrder(Attempts[j - 1], Attempts[j]); j--)
            {
                (Attempts[j - 1], Attempts[j]) = (Attempts[j], Attempts[j - 1]);
            }
        }

        static bool IsOutOfOrder(Attempt first, Attempt second) =>
            first.At == second.At && first.Epoch == second.Epoch && (uint)first.Index > (uint)second.Index;
    }

    private void Number()
    {
        var before = BeganAt;
        foreach (var attempt in Attempts)
        {
            var previous = attempt.Track.Attempts.Count > 0 ? attempt.Track.Attempts[^1].At : DateTimeOffset.MinValue;
            attempt.Track.Attempts.Add(attempt);
            attempt.Number = attempt.Track.Attempts.Count;
            SetStart(attempt, previous, before);
            before = Instant.Shift(attempt.At, -attempt.Uncertainty);
        }

        foreach (var track in _tracks.Values)
        {
            foreach (var voided in track.Voided)
            {
                SetStart(voided, DateTimeOffset.MinValue, BeganAt);
            }
        }
    }

    private static void SetStart(Attempt attempt, DateTimeOffset previous, DateTimeOffset? before)
    {
        if (attempt.Record.StartedAt is { } started)
        {
            attempt.StartedAt = Instant.Shift(started, attempt.Source.Fact.Clock.Offset).ToUniversalTime();
            attempt.StartUncertainty = attempt.Uncertainty;
        }
        else
        {
            var starts = attempt.Track.Starts;
            var i = starts.Count - 1;
            while (i >= 0 && starts[i].At > attempt.At)
            {
                i--;
            }

            if (i >= 0 && starts[i].At > previous)
            {
                attempt.StartedAt = starts[i].At.ToUniversalTime();
                attempt.StartUncertainty = UncertaintyOf(starts[i]);
            }
        }

        // Where no start is known, the step can have begun as early as the unit was free for it.
        var earliest = Instant.Shift(attempt.At, -attempt.Uncertainty);
        var other = attempt.StartedAt is { } at ? Instant.Shift(at, -attempt.StartUncertainty) : before ?? earliest;
        attempt.Earliest = other < earliest ? other : earliest;
    }
}
