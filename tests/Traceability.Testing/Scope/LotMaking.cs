using System.Collections.Immutable;
using Traceability.Domain.Facts;
using Traceability.Domain.Lots;
using Traceability.Domain.Primitives;
using Traceability.Domain.Scope;

namespace Traceability.Testing.Scope;

/// <summary>Lots that were made of the suspect's and of others, and what is in each at every minute, played forward.</summary>
/// <param name="Lots">The lots.</param>
/// <param name="Contents">For each lot and minute whether it may hold material of the suspect, and whether a draw may hold none of it.</param>
internal sealed record MadeLots(ImmutableDictionary<LotKey, Lot> Lots, ImmutableDictionary<LotKey, (bool Suspect, bool Other)[]> Contents)
{
    /// <summary>What is in the lot; nothing of the suspect in one that isn't known.</summary>
    public (bool Suspect, bool Other) Share(LotKey lot, int minute) => Contents.TryGetValue(lot, out var contents) ? contents[minute] : (false, true);

    /// <summary>By chance a lot that could be used there then.</summary>
    public LotKey? Pick(int minute, StationCode? station, Func<int, int> pick)
    {
        if (Lots.IsEmpty || pick(2) == 0)
        {
            return null;
        }

        var lot = Lots.Values.OrderBy(l => l.Key.ToString(), StringComparer.Ordinal).ElementAt(pick(Lots.Count));
        var at = RandomGenealogy.At(minute);
        return LotPresence.Of(new SuspectLot(lot.Key), lot).CouldBeUsed(at, at, station?.Value) ? lot.Key : null;
    }
}

/// <summary>Makes lots of lots by chance, each at a minute of its own.</summary>
internal sealed class LotMaking(LotKey suspect, SuspectFactor factor, Func<int, int> pick, Func<Guid> id)
{
    private readonly Dictionary<LotKey, List<RecordedFact>> _facts = [];
    private readonly Dictionary<LotKey, (bool Suspect, bool Other)[]> _contents = [];
    private int _minute;

    public static MadeLots None { get; } =
        new(ImmutableDictionary<LotKey, Lot>.Empty, ImmutableDictionary<LotKey, (bool Suspect, bool Other)[]>.Empty);

    public MadeLots Make()
    {
        for (var count = 1 + pick(5); count > 0 && _minute < RandomGenealogy.Now - 2; count--)
        {
            _minute += 1 + pick(2);
            MakeOne();
        }

        return new(_facts.ToImmutableDictionary(f => f.Key, f => Lot.Of(f.Key, [.. f.Value])), _contents.ToImmutableDictionary());
    }

    private void MakeOne()
    {
        var isNew = _facts.Count == 0 || pick(3) > 0;
        var lot = isNew ? Named($"M{_facts.Count}") : _facts.Keys.ElementAt(pick(_facts.Count));
        ImmutableArray<StationCode> stations = pick(3) == 1 ? [StationCode.Parse("ST-2")] : [];
        LotSource[] others = [Source(suspect), Source(Named("L2")), .. _facts.Keys.Where(k => k != lot).Select(Source)];
        var source = others[pick(others.Length)];
        ImmutableArray<LotSource> sources = pick(3) == 1 ? [source, others[pick(others.Length)]] : [source];
        var isMix = isNew && sources.Length == 2 && pick(2) == 0;
        Fact fact = isMix ? new LotMixed(lot, sources, stations) { OccurredAt = RandomGenealogy.At(_minute) }
            : isNew && sources.Length == 1 && pick(2) == 0
            ? new LotSplit(lot, source, stations) { OccurredAt = RandomGenealogy.At(_minute) }
            : new LotMerged(lot, sources, stations) { OccurredAt = RandomGenealogy.At(_minute) };
        // Every draw of a mix holds each of its parts: one that surely is of the suspect is enough.
        var goesIn = sources.Select(Content).Aggregate((a, b) => (a.Suspect || b.Suspect, isMix ? a.Other && b.Other : a.Other || b.Other));
        if (isNew)
        {
            _facts[lot] = [];
            _contents[lot] = [.. Enumerable.Repeat(goesIn, RandomGenealogy.Now)];
        }
        else
        {
            for (var minute = _minute; minute < RandomGenealogy.Now; minute++)
            {
                var before = _contents[lot][minute];
                _contents[lot][minute] = (before.Suspect || goesIn.Suspect, before.Other || goesIn.Other);
            }
        }

        _facts[lot].Add(new(id(), fact, fact.OccurredAt));
    }

    // Out of which container of the suspect's lot it was taken isn't always recorded.
    private LotSource Source(LotKey lot) => new(lot, null, lot == suspect && pick(2) == 1 ? ContainerNumber.Parse($"C{1 + pick(2)}") : null);

    private (bool Suspect, bool Other) Content(LotSource source) =>
        source.Lot != suspect ? (_contents.TryGetValue(source.Lot, out var known) ? known[_minute] : (false, true))
        : factor is not SuspectContainer { Container: var container } ? (true, false)
        : source.Container is { } named ? (named == container, named != container)
        : (true, true);

    private LotKey Named(string lot) => suspect with { Lot = LotNumber.Parse(lot) };
}
