using Traceability.Domain.Judging;
using Traceability.Domain.Primitives;
using Traceability.Domain.Scope;
using Traceability.Testing.Scope;

namespace Traceability.Domain.Tests.Scope;

/// <summary>
/// The meaning of a scope, tried out: fills every hole of the records in every way, and plays each filled history minute by minute.
/// Shares nothing with the walk but the rows and the times at which a lot could have been used.
/// </summary>
internal sealed class ScopeOracle
{
    private const int Now = RandomGenealogy.Now;

    private readonly SuspectFactor _factor;
    private readonly LotPresence _presence;
    private readonly RandomGenealogy _history;
    private readonly Dictionary<string, UnitJudgement> _units;
    private readonly List<Option[]> _holes = [];
    private readonly List<Option> _certain = [];

    public ScopeOracle(RandomGenealogy history)
    {
        _history = history;
        _factor = history.Factor;
        _presence = history.Presence;
        _units = history.Records.ToDictionary(r => r.Unit.ToString(), StringComparer.Ordinal);
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
            var fillers = chosen.Where(o => o.Component is not null).Select(o => o.Component!).ToArray();
            if (fillers.Length != fillers.Distinct(StringComparer.Ordinal).Count())
            {
                return;
            }

            foreach (var (unit, minutes) in Play([.. _certain, .. chosen]))
            {
                all[unit].Add(minutes);
            }
        }
    }

    private Dictionary<string, bool[]> Play(List<Option> filled)
    {
        var carries = _units.Keys.ToDictionary(u => u, _ => new bool[Now], StringComparer.Ordinal);
        var inside = _units.Values.SelectMany(u => u.Installations)
            .Select(i => (Component: i.Component.ToString(), Parent: i.Parent.ToString(), From: Minute(i.From), To: Minute(i.To)))
            .Concat(filled.Where(o => o.Component is not null).Select(o => (Component: o.Component!, Parent: o.Unit, From: o.Minute, To: o.Until)))
            .ToArray();
        for (var minute = 0; minute < Now; minute++)
        {
            foreach (var use in filled.Where(o => o.IsExposed && o.Minute <= minute))
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
                var from = usage.Step is null ? 0 : Minute(usage.From);
                var to = usage.Step is null ? 0 : Minute(usage.To);
                options.AddRange(isSuspect
                    ? Enumerable.Range(from, to - from + 1).Select(m => new Option(unit, true, m))
                    : [new Option(unit, false, 0)]);
            }
        }

        return [.. options.Distinct()];
    }

    // What was drawn of a mixed lot can be either.
    private void AddMade(List<Option> options, string unit, MaterialUsage usage)
    {
        for (var minute = Minute(usage.From); minute <= Minute(usage.To); minute++)
        {
            var (suspect, other) = _history.Share(usage.Lot, minute);
            if (suspect)
            {
                options.Add(new(unit, true, usage.Step is null ? 0 : minute));
            }

            if (other)
            {
                options.Add(new(unit, false, 0));
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

        return usage.Step is null || CouldBe(usage.From, usage.To, usage.Station) ? [true, false] : [false];
    }

    private Option[] OptionsOf(string unit, TraceGap gap)
    {
        var options = new List<Option> { new(unit, false, 0) };
        var isContainer = gap.Kind == GapKind.Container;
        if ((isContainer ? _factor is SuspectContainer && gap.Lot == _factor.Lot : gap.Items.Contains(_factor.Lot.Item))
            && (CouldBe(gap.From, gap.To, gap.Station) || (!isContainer && CouldBeMade(gap))))
        {
            options.AddRange(Enumerable.Range(Minute(gap.From), LastMinute(gap) - Minute(gap.From) + 1).Select(m => new Option(unit, true, m)));
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
                        while (until < Now && IsFree(name, until))
                        {
                            until++;
                        }

                        options.Add(new(unit, false, minute, name, until));
                    }
                }
            }
        }

        return [.. options];
    }

    private bool IsFree(string name, int minute)
    {
        var unit = _units[name];
        return minute >= Minute(unit.Status.OpenedAt)
            && !(unit.Status.Place is Place.Shipped or Place.Scrapped && minute >= Minute(unit.Status.Since))
            && !_units.Values.SelectMany(u => u.Installations)
                .Any(i => i.Component == unit.Unit && Minute(i.From) <= minute && minute < Minute(i.To));
    }

    private bool CouldBe(DateTimeOffset from, DateTimeOffset? to, StationCode? station) => _presence.Windows.Any(w =>
        w.From <= (to ?? DateTimeOffset.MaxValue) && w.To >= from && (station is not { } s || w.Stations.IsEmpty || w.Stations.Contains(s)));

    private bool CouldBeMade(TraceGap gap) => _history.Lots.Values.Any(lot =>
        Enumerable.Range(Minute(gap.From), LastMinute(gap) - Minute(gap.From) + 1).Any(m =>
            _history.Share(lot.Key, m).Suspect
            && LotPresence.Of(new SuspectLot(lot.Key), lot).CouldBeUsed(RandomGenealogy.At(m), RandomGenealogy.At(m), gap.Station?.Value)));

    private static int Minute(DateTimeOffset? at) => at is { } time ? RandomGenealogy.MinuteOf(time) : Now;

    private static int LastMinute(TraceGap gap) => Math.Min(Minute(gap.To), Now - 1);

    /// <summary>One way to fill a hole: a use of the suspect (or of something else) on the unit, or a component put into it.</summary>
    private sealed record Option(string Unit, bool IsExposed, int Minute, string? Component = null, int Until = 0);

    internal sealed class Tried
    {
        public bool InAll { get; private set; } = true;

        public bool InSome { get; private set; }

        public bool NowInAll { get; private set; } = true;

        public bool NowInSome { get; private set; }

        public int First { get; private set; } = int.MaxValue;

        public int Last { get; private set; } = int.MinValue;

        public void Add(bool[] minutes)
        {
            var isCarrier = minutes.Contains(true);
            InAll &= isCarrier;
            InSome |= isCarrier;
            NowInAll &= minutes[^1];
            NowInSome |= minutes[^1];
            First = isCarrier ? Math.Min(First, Array.IndexOf(minutes, true)) : First;
            Last = isCarrier ? Math.Max(Last, Array.LastIndexOf(minutes, true)) : Last;
        }
    }
}
