using Traceability.Domain.Primitives;
using Traceability.Domain.Scope;
using Traceability.Domain.Tools;
using Traceability.Testing.Scope;
using Traceability.Testing.Scope.Facts;

namespace Traceability.Domain.Tests.Scope;

/// <summary>
/// The meaning of a scope, tried out from facts: each record that counts, and each that should and doesn't, is filled in every way that
/// it can have been, and each history so filled is played minute by minute. Knows nothing of what the service derives; only when a lot
/// could have been used, and when a tool was suspect, is taken from the domain, by facts without a mistake.
/// </summary>
internal sealed partial class FactOracle
{
    private const int Now = RandomGenealogy.Now;

    // A record that is void may be of before.
    private const int Earliest = FactReading.Earliest;

    private readonly FactHistory _history;
    private readonly SingleSuspect _suspect;
    private readonly Dictionary<UnitKey, FactReading> _units;
    private readonly List<Option[]> _holes = [];
    private readonly List<Option> _certain = [];

    public FactOracle(FactHistory history, SingleSuspect suspect)
    {
        _history = history;
        _suspect = suspect;
        _units = history.Truth.Units.ToDictionary(u => u.Key, u => new FactReading(u.Key, history.Facts(Facts.StreamNames.Of(u.Key))));
        foreach (var unit in _units.Values)
        {
            foreach (var way in Holes(unit))
            {
                var options = way.Distinct().ToArray();
                if (options.Length == 1)
                {
                    _certain.Add(options[0]);
                }
                else if (options.Length > 1)
                {
                    _holes.Add(options);
                }
            }
        }
    }

    private sealed record Option(UnitKey Unit, int? From, UnitKey? Component = null, int At = 0, int Until = 0);

    public long Count => _holes.Aggregate(1L, (product, options) => Math.Min(product * options.Length, 1_000_000));

    /// <summary>For each unit whether it is reached in all, and whether in some ways.</summary>
    public Dictionary<string, (bool InAll, bool InSome)> Try()
    {
        var all = _units.Keys.ToDictionary(u => u.ToString(), _ => (InAll: true, InSome: false), StringComparer.Ordinal);
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

            // One piece can't be in two places.
            UnitKey[] fillers = [.. chosen.Where(o => o.Component is not null).Select(o => o.Component!.Value)];
            if (fillers.Length == fillers.Distinct().Count())
            {
                var reached = Play([.. _certain, .. chosen]);
                foreach (var unit in _units.Keys)
                {
                    var (inAll, inSome) = all[unit.ToString()];
                    all[unit.ToString()] = (inAll && reached.Contains(unit), inSome || reached.Contains(unit));
                }
            }
        }
    }

    private HashSet<UnitKey> Play(Option[] filled)
    {
        var inside = _units.Values.SelectMany(u => u.Stays.Select(s => (s.Component, Parent: u.Unit, s.From, s.To)))
            .Concat(filled.Where(o => o.Component is not null).Select(o => (Component: o.Component!.Value, Parent: o.Unit, From: (double)o.At, To: (double)o.Until))).ToArray();
        var reached = new HashSet<UnitKey>();
        for (var minute = 0; minute < Now; minute++)
        {
            var carries = filled.Where(o => o.From <= minute).Select(o => o.Unit).ToHashSet();
            while (inside.Where(i => i.From <= minute && minute < i.To && carries.Contains(i.Component)).Any(i => carries.Add(i.Parent)))
            {
                // Once more.
            }

            reached.UnionWith(carries);
        }

        return reached;
    }

    private IEnumerable<IEnumerable<Option>> Holes(FactReading unit)
    {
        if (_suspect is SuspectComponent component)
        {
            if (component.Unit == unit.Unit)
            {
                yield return [new(unit.Unit, 0)];
            }
        }
        else
        {
            foreach (var hole in unit.Attempts.SelectMany(a => OfAttempt(unit, a)).Concat(unit.Missing().SelectMany(m => OfMissing(unit, m))).Concat(OfOthers(unit)))
            {
                yield return hole;
            }
        }

        foreach (var hole in Serials(unit))
        {
            yield return hole;
        }
    }

    private IEnumerable<IEnumerable<Option>> OfAttempt(FactReading unit, ReadAttempt a) => _suspect switch
    {
        SuspectWork w when Concerns(w, unit) && (w.Revision is null || w.Revision == a.Revision) => [Ways(unit, a, (_, _) => People(w, a.Record.Person))],
        SuspectTool t when a.Record.Tools.IsEmpty => Plant.NeedsTool(a.Revision, a.Record.Step) && IsSub(unit) ? [Gap(unit, a, (m, _) => AnySetting(t, m))] : [],
        SuspectTool t => a.Record.Tools.Where(u => u.Tool == t.Tool).Select(u => Ways(unit, a, (m, _) => u.Setting is { } s ? [IsAt(t, s, m)] : AnySetting(t, m))),
        SuspectMeasured s when Concerns(s.Item, unit) && Asked(s, a.Revision, a.Record.Step, unit) && !IsRecorded(s, a.Record) => [Gap(unit, a, (_, _) => [true])],
        SuspectMeasured s when Concerns(s.Item, unit) => Values(s, a.Record).Select(v => Ways(unit, a, (_, _) => v)),
        SuspectInterval i when Concerns(i.Item, unit) && Plant.NeedsCure(a.Revision, a.Record.Step) => Intervals(i, unit, a),
        SuspectFactor or SuspectSupplierLot => OfMaterial(unit, a),
        _ => [],
    };

    private IEnumerable<IEnumerable<Option>> OfMissing(FactReading unit, ReadMissing m)
    {
        var isAsked = _suspect switch
        {
            SuspectWork w => Concerns(w, unit) && (w.Revision is null || m.IsVoid || w.Revision == m.Revision),
            SuspectTool => IsSub(unit) && Plant.NeedsTool(m.Revision, m.Step),
            SuspectMeasured s => Concerns(s.Item, unit) && Asked(s, m.Revision, m.Step, unit),
            SuspectInterval i => Concerns(i.Item, unit) && Plant.NeedsCure(m.Revision, m.Step),
            _ => false,
        };
        return isAsked ? [[new(unit.Unit, null), .. Ways(unit, m.Step, null, _history.Plant.Bound(m.Revision, m.Step), m.From, m.To, (minute, _) => _suspect switch
            {
                SuspectWork w => People(w, null),
                SuspectTool t => AnySetting(t, minute),
                _ => [true],
            })]]
            : Factor is { } factor && m.Step == Plant.Bond ? [LotGap(factor, unit, m.Step, m.Station, m.From, m.To)] : [];
    }

    private IEnumerable<IEnumerable<Option>> OfOthers(FactReading unit)
    {
        if (_suspect is SuspectWork w && Concerns(w, unit))
        {
            foreach (var (start, at, to, revision) in unit.GivenUp())
            {
                yield return [new(unit.Unit, null), .. Ways(unit, start.Step, start.Station, _history.Plant.Bound(revision, start.Step), at, to, (_, _) => People(w, start.Person))];
            }
        }

        if (_suspect is SuspectInterval i && Concerns(i.Item, unit))
        {
            foreach (var (start, at) in unit.Pending().Where(p => Plant.NeedsCure(unit.Now, p.Start.Step)))
            {
                foreach (var hole in Interval(i, unit, start.Step, start.Station, unit.Now, at, at, at, unit.Before(Plant.Bond, at, unit.LastEpoch)))
                {
                    yield return hole;
                }
            }
        }

        if (Factor is { } factor && unit.Lot == factor.Lot.Lot && unit.Unit.Item == factor.Lot.Item)
        {
            yield return factor.Filter.IsNone ? [new(unit.Unit, 0)] : [new(unit.Unit, 0), new(unit.Unit, null)];
        }

        // What was bought and names no lot that counts may be of any that was there when it was opened.
        if (Factor is { } any && unit.Lot is null && unit.Unit.Item == _history.Plant.Pin && any.Lot.Item == _history.Plant.Pin)
        {
            var by = unit.Opened ?? Now - 1;
            yield return any is SuspectContainer || Minutes(Earliest, by).Any(m => WasThere(any.Lot, m) || _history.Lots.Keys.Any(l => WasThere(l, m) && _history.Share(l, Math.Max(m, 0)) is { IsMade: true, Suspect: true }))
                ? [new(unit.Unit, null), new(unit.Unit, 0)]
                : [new(unit.Unit, null)];
        }
    }

    // What is suspected of material, with the filter that is asked for.
    private SuspectFactor? Factor => _suspect switch
    {
        SuspectFactor f => f,
        SuspectSupplierLot s => new SuspectLot(_history.Truth.Factor.Lot) { Filter = s.Filter },
        _ => null,
    };

    private IEnumerable<IEnumerable<Option>> OfMaterial(FactReading unit, ReadAttempt a)
    {
        var factor = Factor!;
        if (a.Record.Step == Plant.Bond && a.Record.Materials.IsEmpty)
        {
            yield return LotGap(factor, unit, a.Record.Step, a.Record.Station, a.From, a.To);
        }

        foreach (var use in a.Record.Materials)
        {
            yield return use.Lots.SelectMany(lot => Uses(factor, unit, a, new(use.Item, lot), use.Container));
        }
    }

    private IEnumerable<Option> Uses(SuspectFactor factor, FactReading unit, ReadAttempt a, LotKey lot, ContainerNumber? container)
    {
        // Which container it was is not recorded: the suspect one, only while it was there.
        var isUnnamed = lot == factor.Lot && factor is SuspectContainer && container is null;
        var isOther = isUnnamed || lot != factor.Lot || (factor is SuspectContainer f && container is { } named && named != f.Container);
        return Minutes(a.From, a.To).SelectMany(m =>
        {
            var (isMade, suspect, other) = _history.Share(lot, Math.Max(m, 0));
            var isOne = isMade ? suspect : lot == factor.Lot && (factor is not SuspectContainer c || container is null || container == c.Container);
            bool[] cases = isMade ? [.. suspect ? [true] : Array.Empty<bool>(), .. other ? [false] : Array.Empty<bool>()] : isOne && !isOther ? [true] : isOne ? [true, false] : [false];

            var mayBe = !isUnnamed || CouldBe(factor, m, a.From, a.To, a.Record.Station);
            return cases.SelectMany(isOf => Stations(a.Record.Station, []).Select(s => new Option(unit.Unit, isOf && mayBe && Fits(m, a.Record.Step, s) ? m : null)));
        });
    }

    private IEnumerable<Option> LotGap(SuspectFactor factor, FactReading unit, StepCode step, StationCode? station, double from, double to) =>
        factor.Lot.Item != _history.Plant.Adhesive ? []
        : [
            new(unit.Unit, null),
            .. Minutes(from, to).Where(m => CouldFill(factor, m, from, to, station)).SelectMany(m => Stations(station, []).Where(s => Fits(m, step, s)).Select(_ => new Option(unit.Unit, m))),
        ];

    private bool WasThere(LotKey lot, int minute) =>
        LotPresence.Of(new SuspectLot(lot), _history.Lots[lot]).CouldBeUsed(RandomGenealogy.At(minute), RandomGenealogy.At(minute), null);

    private bool CouldFill(SuspectFactor factor, int minute, double from, double to, StationCode? station) =>
        CouldBe(factor, minute, from, to, station) || _history.Lots.Values.Any(lot => _history.Share(lot.Key, Math.Max(minute, 0)).Suspect
            && LotPresence.Of(new SuspectLot(lot.Key), lot).CouldBeUsed(RandomGenealogy.At(minute), RandomGenealogy.At(minute), (station ?? factor.Filter.Station)?.Value));

    // In that minute, as far as it lies in the time of the record.
    private bool CouldBe(SuspectFactor factor, int minute, double from, double to, StationCode? station)
    {
        var (first, last) = (RandomGenealogy.At(0).AddMinutes(Math.Max(from, minute)), RandomGenealogy.At(0).AddMinutes(to));
        last = last < RandomGenealogy.At(minute + 1) ? last : RandomGenealogy.At(minute + 1).AddTicks(-1);
        return first <= last && LotPresence.Of(factor, _history.Lots[factor.Lot]).CouldBeUsed(first, last, (station ?? factor.Filter.Station)?.Value);
    }

    private IEnumerable<IEnumerable<Option>> Intervals(SuspectInterval suspect, FactReading unit, ReadAttempt a)
    {
        double? began = a.IsStartTold ? a.From : null;
        return Interval(suspect, unit, a.Record.Step, a.Record.Station, a.Revision, began, a.To, a.From, unit.Before(Plant.Bond, began ?? a.To, a.Epoch));
    }

    // From the completion of the step before to the start; an end that nobody recorded was some time up to the completion.
    private IEnumerable<IEnumerable<Option>> Interval(
        SuspectInterval suspect, FactReading unit, StepCode step, StationCode? station, RevisionCode revision, double? end, double to, double earliest, ReadAttempt? before)
    {
        var bound = _history.Plant.Bound(revision, step);
        if (before is not null && end is { } known)
        {
            return [Ways(unit, step, station, [], known, known, (_, _) => [Is(known - before.To)])];
        }

        // That row may be of any time; and the gap says when it can have been at the latest.
        bool[] lengths = before is null ? [true, false] : [Is(0), Is(to - before.To)];
        return
        [
            Ways(unit, step, station, [], Earliest, Now - 1, (_, _) => lengths),
            [new(unit.Unit, null), .. Ways(unit, step, station, bound, earliest, to, (_, _) => [true])],
        ];

        bool Is(double minutes) => suspect.ShorterThan is { } shorter ? TimeSpan.FromMinutes(minutes) < shorter : TimeSpan.FromMinutes(minutes) > suspect.LongerThan;
    }

    private IEnumerable<IEnumerable<Option>> Serials(FactReading unit)
    {
        if (unit.Unit.Item != _history.Plant.Top)
        {
            yield break;
        }

        foreach (var position in new[] { Plant.First, Plant.Second })
        {
            ReadStay[] stays = [.. unit.Stays.Where(s => s.Position == position).OrderBy(s => s.From)];
            foreach (var a in unit.Attempts.Where(a => a.Record.Step == Plant.Marry && !stays.Any(s => s.From <= a.To && a.To < s.To)))
            {
                yield return Fillers(unit, position, a.Record.Station, a.From, Math.Min(a.To, stays.Where(s => s.From > a.To).Select(s => s.From).DefaultIfEmpty(a.To).Min()));
            }

            foreach (var m in unit.Missing().Where(m => m.Step == Plant.Marry && !stays.Any(s => s.From <= m.To && m.To < s.To)))
            {
                yield return Fillers(unit, position, m.Station, m.From, Math.Min(m.To, stays.Where(s => s.From > m.From).Select(s => s.From).DefaultIfEmpty(m.To).Min()));
            }

            foreach (var left in unit.Departures.OrderBy(d => d).TakeLast(1))
            {
                foreach (var s in stays.Where(s => s.To < left && !s.IsDisplaced && !stays.Any(o => o != s && o.From >= s.To)))
                {
                    yield return Fillers(unit, position, null, s.To, left);
                }
            }

            foreach (var (_, at) in unit.Strays.Where(s => s.Position == position))
            {
                yield return Fillers(unit, position, null, unit.Opened ?? Earliest, at);
            }
        }
    }

    private IEnumerable<Option> Fillers(FactReading unit, Code position, StationCode? station, double from, double to)
    {
        var item = position == Plant.First ? _history.Plant.Sub : _history.Plant.Pin;
        yield return new(unit.Unit, null);
        if (Factor is { } factor && factor.Lot.Item == item)
        {
            foreach (var minute in Minutes(from, to).Where(m => CouldFill(factor, m, from, to, station) && Stations(station, []).Any(s => Fits(m, Plant.Marry, s))))
            {
                yield return new(unit.Unit, minute);
            }
        }

        foreach (var component in _units.Values.Where(u => u.Unit.Item == item))
        {
            foreach (var minute in Minutes(from, to).Where(m => IsFree(component, m)))
            {
                var until = minute;
                while (until < Now && IsFree(component, until))
                {
                    until++;
                }

                yield return new(unit.Unit, null, component.Unit, minute, until);
            }
        }
    }

    private bool IsFree(FactReading component, int minute) => minute >= (component.Opened ?? Earliest) && minute < component.Gone
        && !_units.Values.SelectMany(u => u.Stays).Any(s => s.Component == component.Unit && s.From <= minute && minute < s.To);

    private IEnumerable<Option> Ways(FactReading unit, ReadAttempt a, Func<int, StationCode, IEnumerable<bool>> cases) =>
        Ways(unit, a.Record.Step, a.Record.Station, [], a.From, a.To, cases);

    private IEnumerable<Option> Gap(FactReading unit, ReadAttempt a, Func<int, StationCode, IEnumerable<bool>> cases) =>
        [new(unit.Unit, null), .. Ways(unit, a.Record.Step, a.Record.Station, _history.Plant.Bound(a.Revision, a.Record.Step), a.From, a.To, cases)];

    // Every minute and every station at which it can have been, and what can have been the case there then.
    private IEnumerable<Option> Ways(
        FactReading unit, StepCode step, StationCode? station, IEnumerable<StationCode> bound, double earliest, double latest, Func<int, StationCode, IEnumerable<bool>> cases) =>
        from minute in Minutes(earliest, latest)
        from place in Stations(station, bound)
        from isOne in cases(minute, place)
        select new Option(unit.Unit, isOne && Fits(minute, step, place) ? minute : null);

    private static IEnumerable<StationCode> Stations(StationCode? station, IEnumerable<StationCode> bound) => station is { } at ? [at] : bound.Any() ? bound : Plant.Stations;

    private static IEnumerable<int> Minutes(double from, double to) => Enumerable.Range(Earliest, Now - Earliest).Where(m => m >= Math.Floor(from) && m <= to);

    private bool Fits(int minute, StepCode step, StationCode station) => WorkOracle.Fits(_suspect.Filter, minute, step, station);

    private IEnumerable<bool> People(SuspectWork suspect, PersonCode? recorded) =>
        (recorded is { } p ? [p] : _history.Plant.People.AsEnumerable()).Select(p => suspect.Person is null || suspect.Person == p);

    private IEnumerable<bool> AnySetting(SuspectTool suspect, int minute) => ((Code?[])[null, .. Plant.Settings.Select(s => (Code?)s)]).Select(s => IsAt(suspect, s, minute));

    private bool IsAt(SuspectTool suspect, Code? setting, int minute)
    {
        if (suspect.Setting is not null && setting != suspect.Setting)
        {
            return false;
        }

        Code?[] settings = suspect.Setting is { } one ? [one] : [null, .. Plant.Settings.Select(s => (Code?)s)];
        var tool = _history.Truth.Tool;
        var hasWindows = settings.Any(s => Enumerable.Range(-1, Now + 2).Any(m => SuspectWindows.At(tool, s, RandomGenealogy.At(m)) is not null));
        var at = RandomGenealogy.At(minute);
        return suspect.Times == ToolTimes.All || (hasWindows ? SuspectWindows.At(tool, setting, at) is not null : !(SuspectWindows.LastGood(tool, setting) > at));
    }
}
