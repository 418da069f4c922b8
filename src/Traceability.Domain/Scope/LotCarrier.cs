using Traceability.Domain.Facts;
using Traceability.Domain.Lots;
using Traceability.Domain.Primitives;

namespace Traceability.Domain.Scope;

/// <summary>A lot that carries material of the suspect, because it was split off it, merged or mixed with it, at any depth.</summary>
/// <remarks>
/// A lot that came wholly from the suspect is the suspect: what names it, names the suspect. Of a mix every draw holds every part, so
/// with the suspect among its parts it counts as wholly from it. Where other material was merged in, any draw may be of the suspect
/// or not: possible. The first inflow of a lot counts for every time, since a use before it shows
/// that the lot was there; each further one from when it happened on, by the bounds of its clock's uncertainty. Nothing that was
/// merged in ever leaves again by record, so a lot goes from wholly to partly, and not back.
/// </remarks>
/// <param name="Lot">The lot.</param>
/// <param name="CarriesFrom">From when on it may hold material of the suspect; the least possible time: always.</param>
/// <param name="WhollyUntil">Until when, this time left out, every draw surely holds material of the suspect; the least possible time: never.</param>
/// <param name="Presence">When and where the lot could have been used while it may hold material of the suspect.</param>
public sealed record LotCarrier(LotKey Lot, DateTimeOffset CarriesFrom, DateTimeOffset WhollyUntil, LotPresence Presence)
{
    /// <summary>How sure a use between these times, ends included, is one of the suspect; null if it can't be one.</summary>
    public ScopeVerdict? Share(DateTimeOffset from, DateTimeOffset to) =>
        to < CarriesFrom ? null : from >= CarriesFrom && to < WhollyUntil ? ScopeVerdict.Proven : ScopeVerdict.Possible;

    /// <summary>The lots that carry material of the suspect, without its own; ordered by name.</summary>
    /// <param name="factor">The suspect.</param>
    /// <param name="lots">
    /// Lots with their facts, by name: all that were made of the suspect's lot, at any depth. Others do no harm.
    /// </param>
    public static ImmutableArray<LotCarrier> Of(SuspectFactor factor, IReadOnlyDictionary<LotKey, Lot> lots)
    {
        ArgumentNullException.ThrowIfNull(factor);
        ArgumentNullException.ThrowIfNull(lots);
        var spread = new Spread(factor, lots);
        return
        [
            .. spread.Find().OrderBy(c => c.Lot.ToString(), StringComparer.Ordinal)
                .Select(c => new LotCarrier(c.Lot, c.From, c.Until, LotPresence.Of(new SuspectLot(c.Lot), lots[c.Lot]).After(c.From))),
        ];
    }

    private readonly record struct Inflow(DateTimeOffset Earliest, DateTimeOffset Latest, ImmutableArray<LotSource> Sources, bool IsMix = false);

    /// <summary>Spreads from the suspect's lot to others until nothing changes, so circles of lots end, too.</summary>
    private sealed class Spread
    {
        private readonly SuspectFactor _factor;
        private readonly Dictionary<LotKey, Inflow[]> _inflows = [];
        private readonly Dictionary<LotKey, List<LotKey>> _into = [];
        private readonly Dictionary<LotKey, DateTimeOffset> _from = [];
        private readonly Dictionary<LotKey, DateTimeOffset> _until = [];

        public Spread(SuspectFactor factor, IReadOnlyDictionary<LotKey, Lot> lots)
        {
            _factor = factor;
            foreach (var (key, lot) in lots)
            {
                if (key == factor.Lot)
                {
                    continue;
                }

                if (lot.Standing().Any(f => f.Fact is UnreadableFact))
                {
                    // What it was made of isn't known. It is among these lots because it was made of the suspect at some time.
                    _from[key] = _until[key] = DateTimeOffset.MinValue;
                    continue;
                }

                _inflows[key] = [.. lot.Standing().Select(Of).OfType<Inflow>()];
            }

            foreach (var (key, inflows) in _inflows)
            {
                foreach (var source in inflows.SelectMany(i => i.Sources).Select(s => s.Lot).Distinct())
                {
                    (_into.TryGetValue(source, out var into) ? into : _into[source] = []).Add(key);
                }
            }
        }

        public IEnumerable<(LotKey Lot, DateTimeOffset From, DateTimeOffset Until)> Find()
        {
            Settle(_from, From, DateTimeOffset.MaxValue);
            foreach (var carrier in _from.Keys)
            {
                _until.TryAdd(carrier, DateTimeOffset.MaxValue);
            }

            Settle(_until, Until, DateTimeOffset.MinValue);
            return _from.Select(f => (f.Key, f.Value, _until[f.Key]));
        }

        // Both values only ever become earlier, each one of finitely many times, so this ends.
        private void Settle(Dictionary<LotKey, DateTimeOffset> known, Func<LotKey, DateTimeOffset> judge, DateTimeOffset absent)
        {
            var open = new Queue<LotKey>([.. Into(_factor.Lot), .. _from.Keys.SelectMany(Into), .. _from.Keys.Where(_inflows.ContainsKey)]);
            while (open.TryDequeue(out var lot))
            {
                var judged = judge(lot);
                var before = known.TryGetValue(lot, out var value) ? value : absent;
                if (judged < before)
                {
                    known[lot] = judged;
                    foreach (var next in Into(lot))
                    {
                        open.Enqueue(next);
                    }
                }
            }
        }

        private IReadOnlyList<LotKey> Into(LotKey lot) => _into.TryGetValue(lot, out var into) ? into : [];

        private DateTimeOffset From(LotKey lot)
        {
            var inflows = _inflows[lot];
            for (var i = 0; i < inflows.Length; i++)
            {
                if (inflows[i].Sources.Any(s => MayCarry(s, inflows[i].Latest)))
                {
                    return i == 0 ? DateTimeOffset.MinValue : Earliest(inflows, i);
                }
            }

            return DateTimeOffset.MaxValue;
        }

        // Inflows are in order of time, but one of a doubtful clock may have been before another one.
        private DateTimeOffset Earliest(Inflow[] inflows, int first) =>
            inflows[first..].Where(i => i.Sources.Any(s => MayCarry(s, i.Latest))).Min(i => i.Earliest);

        private DateTimeOffset Until(LotKey lot)
        {
            var until = DateTimeOffset.MaxValue;
            var inflows = _inflows[lot];
            for (var i = 0; i < inflows.Length; i++)
            {
                if (!IsWholly(inflows[i]))
                {
                    var from = i == 0 ? DateTimeOffset.MinValue : inflows[i].Earliest;
                    until = from < until ? from : until;
                }
            }

            return until;
        }

        private bool MayCarry(LotSource source, DateTimeOffset latest) =>
            source.Lot == _factor.Lot ? IsOf(source) != false : _from.TryGetValue(source.Lot, out var from) && from <= latest;

        // One part that is wholly of the suspect is enough in a mix.
        private bool IsWholly(Inflow inflow) => inflow.IsMix
            ? inflow.Sources.Any(s => IsWholly(s, inflow.Latest))
            : !inflow.Sources.IsEmpty && inflow.Sources.All(s => IsWholly(s, inflow.Latest));

        private bool IsWholly(LotSource source, DateTimeOffset latest) =>
            source.Lot == _factor.Lot ? IsOf(source) == true
                : _from.TryGetValue(source.Lot, out var from) && from == DateTimeOffset.MinValue && latest < _until[source.Lot];

        // Whether what was taken out of the suspect's lot was of the suspect; null: not known.
        private bool? IsOf(LotSource source) =>
            _factor is not SuspectContainer { Container: var suspect } ? true : source.Container is { } container ? container == suspect : null;

        private static Inflow? Of(EffectiveFact fact) => fact.Fact switch
        {
            LotReceived => new Inflow(Early(fact), Late(fact), []),
            ILotInflow inflow => new Inflow(Early(fact), Late(fact), [.. Lots.Lot.SourcesOf(inflow)], inflow is LotMixed),
            _ => null,
        };

        private static DateTimeOffset Early(EffectiveFact fact) => Instant.Shift(fact.At, -fact.Uncertainty);

        private static DateTimeOffset Late(EffectiveFact fact) => Instant.Shift(fact.At, fact.Uncertainty);
    }
}
