using Traceability.Domain.Judging;
using Traceability.Domain.Primitives;
using Traceability.Domain.Scope;
using Traceability.Testing.Scope;

namespace Traceability.Domain.Tests.Scope;

/// <summary>
/// The meaning of a scope, tried out: fills every hole of the records in every way, and plays each filled history minute by minute.
/// Shares nothing with the walk but the rows and the times at which a lot could have been used, or a tool was suspect. Rows are
/// filled one by one, as if each told of something of its own.
/// </summary>
internal sealed class ScopeOracle
{
    private const int Now = RandomGenealogy.Now;

    private readonly Suspect _suspect;
    private readonly SingleSuspect[] _singles;
    private readonly SuspectFactor _factor;
    private readonly LotPresence _presence;
    private readonly RandomGenealogy _history;
    private readonly Dictionary<string, UnitJudgement> _units;
    private readonly List<Option[]> _holes = [];
    private readonly List<Option> _certain = [];

    public ScopeOracle(RandomGenealogy history)
        : this(history, history.Factor, history.Records)
    {
    }

    public ScopeOracle(RandomWork work)
        : this(work.History, work.Suspect, work.Records)
    {
        foreach (var (name, unit) in _units)
        {
            for (var s = 0; s < _singles.Length; s++)
            {
                foreach (var ways in WorkOracle.Rows(_singles[s], unit, work.Tool))
                {
                    AddHole([.. ways.Select(w => new Option(name, w is { } minute ? Only(s, minute) : None, 0))]);
                }
            }
        }
    }

    private ScopeOracle(RandomGenealogy history, Suspect suspect, IEnumerable<UnitJudgement> records)
    {
        _history = history;
        _suspect = suspect;
        _singles = [.. suspect.Singles()];
        _factor = history.Factor;
        _presence = history.Presence;
        _units = records.ToDictionary(r => r.Unit.ToString(), StringComparer.Ordinal);
        foreach (var (component, s) in _singles.Select((c, s) => (c as SuspectComponent, s)).Where(c => c.Item1 is not null))
        {
            _certain.Add(new(component!.Unit.ToString(), Only(s, 0), 0));
        }

        foreach (var (name, unit) in _units)
        {
            foreach (var record in unit.Usages.GroupBy(u => (u.Record, u.Requirement)))
            {
                AddHole(OptionsOf(name, [.. record]));
            }

            foreach (var gap in unit.Gaps)
            {
                AddHole(OptionsOf(name, gap));
            }

            foreach (var stay in unit.Installations)
            {
                AddHole(OptionsOf(name, stay));
            }
        }
    }

    public long Count => _holes.Aggregate(1L, (product, options) => product * options.Length);

    /// <summary>For each unit: whether all and whether some completions make it a carrier at any time, and now; and when, over all.</summary>
    public Dictionary<string, Tried> Try()
    {
        var all = _units.Keys.ToDictionary(u => u, _ => new Tried(), StringComparer.Ordinal);
        var chosen = new Option[_holes.Count];
        Choose(0);
        return all;

        void Choose(int hole)
        {
            if (hole < _holes.Count)
            {
                foreach (var option in _holes[hole])
                {
                    chosen[hole] = option;
                    Choose(hole + 1);
                }

                return;
            }

            // One piece can't be in two places; a completion that says so is none.
            var fillers = chosen.Where(o => o is { Component: not null, IsRecorded: false }).Select(o => o.Component!).ToArray();
            if (fillers.Length != fillers.Distinct(StringComparer.Ordinal).Count())
            {
                return;
            }

            List<Option> filled = [.. _certain, .. chosen];
            var played = _singles.Select((_, s) => Play(filled, s)).ToArray();
            foreach (var unit in _units.Keys)
            {
                all[unit].Add(Carries(_suspect, unit, played), played[0][unit]);
            }
        }
    }

    private bool Carries(Suspect suspect, string unit, Dictionary<string, bool[]>[] played)
    {
        var next = 0;
        return Of(suspect);

        // All parts are looked at, so that the singles are counted in their order.
        bool Of(Suspect part) => part switch
        {
            SuspectAll all => all.Of.Select(Of).ToArray().All(c => c),
            SuspectAny any => any.Of.Select(Of).ToArray().Any(c => c),
            SuspectExcept except => Of(except.Of) & !Of(except.But),
            _ => played[next++][unit].Contains(true),
        };
    }

    private Dictionary<string, bool[]> Play(List<Option> filled, int single)
    {
        var carries = _units.Keys.ToDictionary(u => u, _ => new bool[Now], StringComparer.Ordinal);
        var inside = filled.Where(o => o.Component is not null)
            .Select(o => (Component: o.Component!, Parent: o.Unit, From: o.Minute, To: o.Until))
            .ToArray();
        for (var minute = 0; minute < Now; minute++)
        {
            foreach (var use in filled.Where(o => o.Exposed[single] is { } from && from <= minute))
            {
                carries[use.Unit][minute] = true;
            }

            for (var changed = true; changed;)
            {
                changed = false;
                foreach (var (component, parent, from, to) in inside)
                {
                    if (from <= minute && minute < to && carries[component][minute] && !carries[parent][minute])
                    {
                        carries[parent][minute] = changed = true;
                    }
                }
            }
        }

        return carries;
    }

    private void AddHole(Option[] options)
    {
        options = [.. options.DistinctBy(o => o.Key, StringComparer.Ordinal)];
        if (options.Length == 1)
        {
            _certain.Add(options[0]);
        }
        else
        {
            _holes.Add(options);
        }
    }

    // Every lot that the record names, each at every minute at which it could have been.
    private Option[] OptionsOf(string unit, MaterialUsage[] record)
    {
        var options = new List<Option>();
        foreach (var usage in record)
        {
            if (_history.Lots.ContainsKey(usage.Lot))
            {
                AddMade(options, unit, usage);
                continue;
            }

            foreach (var isSuspect in IsSuspect(usage))
            {
                options.AddRange(isSuspect ? Uses(unit, usage) : [new Option(unit, None, 0)]);
            }
        }

        return [.. options];
    }

    // A use of the suspect, at every minute at which it can have been. What is a piece of the suspect's lot may not count as a use
    // at a time or place.
    private IEnumerable<Option> Uses(string unit, MaterialUsage usage)
    {
        if (usage.Step is null)
        {
            return [new(unit, OfLot(_ => 0), 0), new(unit, OfLot(f => f.Filter.IsNone ? 0 : null), 0)];
        }

        return Minutes(usage)
            .Select(m => new Option(unit, OfLot(f => WorkOracle.Fits(f.Filter, m, usage.Step, usage.Station) && IsThere(f, usage, m) ? m : null), 0));
    }

    // Where it isn't recorded which container it was, the suspect one must have been there at that time.
    private bool IsThere(SuspectFactor factor, MaterialUsage usage, int minute) =>
        factor is not SuspectContainer || usage.Container is not null || _history.Lots.ContainsKey(usage.Lot)
        || IsThere(minute, usage.Station ?? factor.Filter.Station);

    // What was drawn of a mixed lot can be either.
    private void AddMade(List<Option> options, string unit, MaterialUsage usage)
    {
        for (var minute = Minute(usage.From); minute <= Minute(usage.To); minute++)
        {
            var (suspect, other) = _history.Share(usage.Lot, minute);
            if (suspect)
            {
                var at = RandomGenealogy.At(minute);
                options.AddRange(Uses(unit, usage with { From = usage.Step is null ? usage.From : at, To = usage.Step is null ? usage.To : at }));
            }

            if (other)
            {
                options.Add(new(unit, None, 0));
            }
        }
    }

    private bool[] IsSuspect(MaterialUsage usage)
    {
        if (usage.Lot != _factor.Lot)
        {
            return [false];
        }

        if (_factor is not SuspectContainer { Container: var container })
        {
            return [true];
        }

        if (usage.Container is { } named)
        {
            return [named == container];
        }

        return usage.Step is null || Minutes(usage).Any(m => IsThere(m, usage.Station)) ? [true, false] : [false];
    }

    private Option[] OptionsOf(string unit, TraceGap gap)
    {
        if (gap.Kind == GapKind.OwnLot)
        {
            return [new(unit, None, 0), new(unit, OfLot(f => gap.Items.Contains(f.Lot.Item) && CouldBeOfIt(f, gap) ? 0 : null), 0)];
        }

        var options = new List<Option> { new(unit, None, 0) };
        var isContainer = gap.Kind == GapKind.Container;
        if (isContainer ? _factor is SuspectContainer && gap.Lot == _factor.Lot : gap.Items.Contains(_factor.Lot.Item))
        {
            foreach (var station in gap.Station is { } known ? [known] : RandomWork.Stations.AsEnumerable())
            {
                options.AddRange(Enumerable.Range(Minute(gap.From), LastMinute(gap) - Minute(gap.From) + 1).Select(m => new Option(
                    unit, OfLot(f => WorkOracle.Fits(f.Filter, m, gap.Step, station) && CouldFill(m, gap.Station ?? f.Filter.Station, isContainer) ? m : null), 0)));
            }
        }

        if (gap.Kind == GapKind.Serial)
        {
            foreach (var (name, component) in _units)
            {
                if (!gap.Items.Contains(component.Unit.Item))
                {
                    continue;
                }

                for (var minute = Minute(gap.From); minute <= LastMinute(gap); minute++)
                {
                    if (IsFree(name, minute))
                    {
                        var until = minute;
                        while (until < Now && IsFree(name, until) && (until == minute || !IsPutIn(name, until)))
                        {
                            until++;
                        }

                        options.Add(new(unit, None, minute, name, until));
                    }
                }
            }
        }

        return [.. options];
    }

    // A stay that is recorded: each of its times, as far as its clock can be trusted.
    private Option[] OptionsOf(string unit, Installation stay) =>
    [
        .. from first in Around(stay.From, stay)
           from last in stay.To is { } to ? Around(to, stay) : [Now]
           select new Option(unit, None, first, stay.Component.ToString(), last, IsRecorded: true),
    ];

    private static IEnumerable<int> Around(DateTimeOffset at, Installation stay)
    {
        var off = (int)stay.Uncertainty.TotalMinutes;
        return Enumerable.Range(Minute(at) - off, (2 * off) + 1);
    }

    private int?[] None => new int?[_singles.Length];

    private int?[] Only(int single, int minute)
    {
        var exposed = None;
        exposed[single] = minute;
        return exposed;
    }

    private int?[] OfLot(Func<SuspectFactor, int?> exposed) => [.. _singles.Select(s => s is SuspectFactor factor ? exposed(factor) : null)];

    private bool IsFree(string name, int minute)
    {
        var unit = _units[name];
        return minute >= Minute(unit.Status.OpenedAt)
            && !(unit.Status.Place is Place.Shipped or Place.Scrapped && minute >= Minute(unit.Status.Since))
            && !_units.Values.SelectMany(u => u.Installations)
                .Any(i => i.Component == unit.Unit && Around(i.From, i).Max() <= minute && minute < (i.To is { } to ? Around(to, i).Min() : Now));
    }

    // By this minute a recorded stay has begun, and with it another one is over: also one that may have been over at once.
    private bool IsPutIn(string name, int minute) => _units.Values.SelectMany(u => u.Installations)
        .Any(i => i.Component == _units[name].Unit && Around(i.From, i).Max() == minute);

    // What came in a bag that nobody recorded as opened was in it all the same.
    private bool CouldBeOfIt(SuspectFactor factor, TraceGap gap) =>
        factor is SuspectContainer || Enumerable.Range(0, LastMinute(gap) + 1).Any(m => CouldFill(m, null, isContainer: false));

    private bool CouldFill(int minute, StationCode? station, bool isContainer) => IsThere(minute, station)
        || (!isContainer && _history.Lots.Values.Any(lot => _history.Share(lot.Key, minute).Suspect && IsThere(LotPresence.Of(new SuspectLot(lot.Key), lot), minute, station)));

    private bool IsThere(int minute, StationCode? station) => IsThere(_presence, minute, station);

    private static bool IsThere(LotPresence presence, int minute, StationCode? station) => presence.Windows.Any(w =>
        w.From <= RandomGenealogy.At(minute) && w.To >= RandomGenealogy.At(minute) && (station is not { } s || w.Stations.IsEmpty || w.Stations.Contains(s)));

    private static IEnumerable<int> Minutes(MaterialUsage usage) => Enumerable.Range(Minute(usage.From), Minute(usage.To) - Minute(usage.From) + 1);

    private static int Minute(DateTimeOffset? at) => at is { } time ? RandomGenealogy.MinuteOf(time) : Now;

    private static int LastMinute(TraceGap gap) => Math.Min(Minute(gap.To), Now - 1);

    /// <summary>One way to fill a hole: a use of suspects (for each the minute, or null) on the unit, or a component put into it.</summary>
    private sealed record Option(string Unit, int?[] Exposed, int Minute, string? Component = null, int Until = 0, bool IsRecorded = false)
    {
        public string Key => $"{string.Join(',', Exposed)} {Component} {Minute} {Until}";
    }

    internal sealed class Tried
    {
        public bool InAll { get; private set; } = true;

        public bool InSome { get; private set; }

        public bool NowInAll { get; private set; } = true;

        public bool NowInSome { get; private set; }

        public int First { get; private set; } = int.MaxValue;

        public int Last { get; private set; } = int.MinValue;

        public void Add(bool isMember, bool[] minutes)
        {
            var isCarrier = minutes.Contains(true);
            InAll &= isMember;
            InSome |= isMember;
            NowInAll &= minutes[^1];
            NowInSome |= minutes[^1];
            First = isCarrier ? Math.Min(First, Array.IndexOf(minutes, true)) : First;
            Last = isCarrier ? Math.Max(Last, Array.LastIndexOf(minutes, true)) : Last;
        }
    }
}
