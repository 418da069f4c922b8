using Traceability.Domain.Facts;
using Traceability.Domain.Lots;
using Traceability.Domain.Primitives;

namespace Traceability.Domain.Scope;

/// <summary>A time in which something could have been used, and where.</summary>
/// <param name="From">From when on, ends included.</param>
/// <param name="To">Until when; <see cref="DateTimeOffset.MaxValue"/>: until now.</param>
/// <param name="Stations">Where; empty: at every station.</param>
public sealed record PresenceWindow(DateTimeOffset From, DateTimeOffset To, ImmutableArray<StationCode> Stations);

/// <summary>Why the times in which a lot could have been used are not known.</summary>
public enum PresenceDoubt
{
    /// <summary>They are known.</summary>
    None,

    /// <summary>The lot was never received or made of others, so it could have been used at any time and place.</summary>
    NeverReceived,

    /// <summary>A fact about the lot can't be read, so it could have been used at any time and place.</summary>
    Unreadable,
}

/// <summary>When and where a lot or container could have been used: received or opened, until emptied, quarantined or moved away.</summary>
/// <remarks>
/// Each end is widened by the uncertainty of the clock that reported it. What isn't recorded never narrows: a lot that was never
/// received could have been used always; a container that was never opened, as long as its lot.
/// </remarks>
/// <param name="Windows">The times and places; they may overlap.</param>
/// <param name="Doubt">Why they are not known, if they aren't.</param>
public sealed record LotPresence(ImmutableArray<PresenceWindow> Windows, PresenceDoubt Doubt)
{
    /// <summary>The earliest time of all windows; the latest possible if there is none.</summary>
    public DateTimeOffset From => Windows.IsEmpty ? DateTimeOffset.MaxValue : Windows.Min(w => w.From);

    /// <summary>The latest time of all windows; the earliest possible if there is none.</summary>
    public DateTimeOffset To => Windows.IsEmpty ? DateTimeOffset.MinValue : Windows.Max(w => w.To);

    /// <summary>When and where the suspect could have been used.</summary>
    /// <param name="factor">The suspect.</param>
    /// <param name="lot">The facts of its lot; null if nothing is known of it.</param>
    public static LotPresence Of(SuspectFactor factor, Lot? lot)
    {
        var facts = lot?.Effective ?? [];
        if (facts.Any(f => !f.IsVoided && f.Fact is UnreadableFact))
        {
            return new([Always], PresenceDoubt.Unreadable);
        }

        var doubt = lot?.Origin is null ? PresenceDoubt.NeverReceived : PresenceDoubt.None;
        var standing = facts.Where(f => !f.IsVoided).ToArray();
        ImmutableArray<PresenceWindow> ofLot = doubt == PresenceDoubt.None ? OfLot(standing) : [Always];
        return factor is SuspectContainer { Container: var container }
            ? new(OfContainer(standing, container, ofLot), doubt)
            : new([.. ofLot, .. OfContainersAwayFromLot(standing)], doubt);
    }

    /// <summary>The same from a time on.</summary>
    public LotPresence After(DateTimeOffset from) =>
        from == DateTimeOffset.MinValue ? this : this with { Windows = Clip(Windows, from, DateTimeOffset.MaxValue) };

    /// <summary>The times and places of both; what is doubtful of this one stays so.</summary>
    public LotPresence With(IEnumerable<LotPresence> others)
    {
        ImmutableArray<PresenceWindow> more = [.. others.SelectMany(o => o.Windows)];
        return more.IsEmpty ? this : this with { Windows = [.. Windows, .. more] };
    }

    /// <summary>Whether a use between these times, ends included, could have been of the suspect.</summary>
    /// <param name="from">The earliest time of use.</param>
    /// <param name="to">The latest; null: until now.</param>
    /// <param name="station">The station; null: any.</param>
    public bool CouldBeUsed(DateTimeOffset from, DateTimeOffset? to, string? station) => EarliestUse(from, to, station) is not null;

    /// <summary>When a use between these times, ends included, could have been of the suspect, at the earliest; null: it can't have been.</summary>
    /// <param name="from">The earliest time of use.</param>
    /// <param name="to">The latest; null: until now.</param>
    /// <param name="station">The station; null: any.</param>
    public DateTimeOffset? EarliestUse(DateTimeOffset from, DateTimeOffset? to, string? station)
    {
        DateTimeOffset? earliest = null;
        foreach (var window in Windows)
        {
            if (window.From <= (to ?? DateTimeOffset.MaxValue) && from <= window.To
                && (station is null || window.Stations.IsEmpty || IsAt(window, station)))
            {
                var first = ScopeWalk.Later(window.From, from);
                earliest = earliest < first ? earliest : first;
            }
        }

        return earliest;
    }

    private static PresenceWindow Always { get; } = new(DateTimeOffset.MinValue, DateTimeOffset.MaxValue, []);

    private static bool IsAt(PresenceWindow window, string station)
    {
        foreach (var place in window.Stations)
        {
            if (string.Equals(place.Value, station, StringComparison.Ordinal))
            {
                return true;
            }
        }

        return false;
    }

    private static ImmutableArray<PresenceWindow> OfLot(EffectiveFact[] facts)
    {
        var tracker = new PresenceTracker();
        foreach (var fact in facts)
        {
            switch (fact.Fact)
            {
                case LotReceived received:
                    tracker.Open(fact, received.Stations);
                    break;
                case LotSplit split:
                    tracker.Open(fact, split.Stations);
                    break;
                case LotMixed mixed:
                    tracker.Open(fact, mixed.Stations);
                    break;
                case LotMerged merged:
                    tracker.Join(fact, merged.Stations);
                    break;
                case LotMoved moved:
                    tracker.Move(fact, moved.Stations);
                    break;
                case LotQuarantined:
                    tracker.Suspend(fact);
                    break;
                case LotReleased:
                    tracker.Resume(fact);
                    break;
                case LotEmptied:
                    tracker.End(fact);
                    break;
            }
        }

        return tracker.Finish();
    }

    // A container that names its own stations is there, wherever its lot is.
    private static IEnumerable<PresenceWindow> OfContainersAwayFromLot(EffectiveFact[] facts) =>
        facts.Select(f => f.Fact).OfType<ContainerOpened>().Where(o => !o.Stations.IsEmpty)
            .Select(o => o.Container).Distinct()
            .SelectMany(container => OfOpenings(facts, container, o => !o.Stations.IsEmpty));

    private static ImmutableArray<PresenceWindow> OfContainer(
        EffectiveFact[] facts, ContainerNumber container, ImmutableArray<PresenceWindow> ofLot)
    {
        var isOpened = facts.Any(f => f.Fact is ContainerOpened o && o.Container == container);
        var emptied = facts.LastOrDefault(f => f.Fact is ContainerEmptied e && e.Container == container);
        if (!isOpened)
        {
            return Clip(ofLot, DateTimeOffset.MinValue, emptied is null ? DateTimeOffset.MaxValue : Late(emptied));
        }

        var withLot = OfOpenings(facts, container, o => o.Stations.IsEmpty).SelectMany(w => Clip(ofLot, w.From, w.To));
        return [.. OfOpenings(facts, container, o => !o.Stations.IsEmpty), .. withLot];
    }

    private static ImmutableArray<PresenceWindow> OfOpenings(
        EffectiveFact[] facts, ContainerNumber container, Func<ContainerOpened, bool> counts)
    {
        var tracker = new PresenceTracker();
        foreach (var fact in facts)
        {
            switch (fact.Fact)
            {
                case ContainerOpened opened when opened.Container == container && counts(opened):
                    tracker.Open(fact, opened.Stations);
                    break;
                case ContainerEmptied emptied when emptied.Container == container:
                    tracker.End(fact);
                    break;
                case LotQuarantined:
                    tracker.Suspend(fact);
                    break;
                case LotReleased:
                    tracker.Resume(fact);
                    break;
                case LotEmptied:
                    tracker.End(fact);
                    break;
            }
        }

        return tracker.Finish();
    }

    private static ImmutableArray<PresenceWindow> Clip(ImmutableArray<PresenceWindow> windows, DateTimeOffset from, DateTimeOffset to) =>
    [
        .. windows.Where(w => w.From <= to && from <= w.To)
            .Select(w => w with { From = w.From > from ? w.From : from, To = w.To < to ? w.To : to }),
    ];

    private static DateTimeOffset Late(EffectiveFact fact) => Instant.Shift(fact.At, fact.Uncertainty);

    /// <summary>Follows where something is through facts in order of time.</summary>
    private sealed class PresenceTracker
    {
        private readonly List<PresenceWindow> _closed = [];
        private readonly List<PresenceWindow> _open = [];
        private readonly List<PresenceWindow> _suspended = [];

        // A second receipt adds to the first: part of the lot may still be where that put it.
        public void Open(EffectiveFact fact, ImmutableArray<StationCode> stations) =>
            _open.Add(new(Instant.Shift(fact.At, -fact.Uncertainty), DateTimeOffset.MaxValue, stations));

        // What is put into a lot goes where that is, unless it is said to be elsewhere.
        public void Join(EffectiveFact fact, ImmutableArray<StationCode> stations)
        {
            if (!stations.IsEmpty || (_open.Count == 0 && _suspended.Count == 0))
            {
                Open(fact, stations);
            }
        }

        public void Move(EffectiveFact fact, ImmutableArray<StationCode> stations)
        {
            if (_suspended.Count > 0)
            {
                _suspended.Clear();
                _suspended.Add(new(default, DateTimeOffset.MaxValue, stations));
                return;
            }

            Close(fact);
            Open(fact, stations);
        }

        public void Suspend(EffectiveFact fact)
        {
            _suspended.AddRange(_open);
            Close(fact);
        }

        public void Resume(EffectiveFact fact)
        {
            foreach (var window in _suspended)
            {
                Open(fact, window.Stations);
            }

            _suspended.Clear();
        }

        public void End(EffectiveFact fact)
        {
            Close(fact);
            _suspended.Clear();
        }

        public ImmutableArray<PresenceWindow> Finish() => [.. _closed, .. _open];

        private void Close(EffectiveFact fact)
        {
            _closed.AddRange(_open.Select(w => w with { To = Late(fact) }));
            _open.Clear();
        }
    }
}
