using System.Collections.Immutable;
using Traceability.Domain.Facts;
using Traceability.Domain.Judging;
using Traceability.Domain.Lots;
using Traceability.Domain.Primitives;
using Traceability.Domain.Scope;
using Traceability.Domain.Tools;

namespace Traceability.Testing.Scope.Facts;

/// <summary>A unit while its history is made up.</summary>
internal sealed class MadeUnit(UnitKey key, int level, int opened)
{
    public UnitKey Key { get; } = key;

    public int Level { get; } = level;

    public int Opened { get; } = opened;

    public VariantCode? Variant { get; set; }

    public LotNumber? Lot { get; set; }

    /// <summary>Its lot was there when it was opened, so that it could be found without its name.</summary>
    public bool MayBeUnnamed { get; set; }

    public bool IsOfFactor { get; set; }

    /// <summary>Where it went, and when; in process: nowhere.</summary>
    public Place Left { get; set; } = Place.InProcess;

    public int LeftAt { get; set; } = RandomGenealogy.Now;

    /// <summary>Half a minute after this one it moved to the other revision; null: never.</summary>
    public int? MovedAfter { get; set; }

    public ImmutableArray<StepCode> CarriesOver { get; set; } = [];

    public List<TrueWork> Work { get; } = [];

    /// <summary>What was inside it.</summary>
    public List<TrueStay> Stays { get; } = [];

    public RevisionCode RevisionAt(int minute)
    {
        var isSecond = (Variant is not null && Level == 1) != (MovedAfter < minute);
        return Plant.Revisions[isSecond ? 1 : 0];
    }

    /// <summary>Whether what was done counts at that time: no move to another revision between them, or one that carries it over.</summary>
    public bool Counts(TrueWork work, int minute) => (MovedAfter < work.To) == (MovedAfter < minute) || (minute > work.To && CarriesOver.Contains(work.Step));

    public bool IsHere(int minute) => minute >= Opened && (Left is not (Place.Shipped or Place.Scrapped) || minute < LeftAt);
}

/// <summary>Makes up what truly happens in a small works.</summary>
internal sealed class TruthMaker(Plant plant, Choices choices, Func<Guid> id)
{
    private const int Now = RandomGenealogy.Now;
    private static readonly ContainerNumber[] Containers = [ContainerNumber.Parse("C1"), ContainerNumber.Parse("C2")];

    private readonly HashSet<(UnitKey Unit, int Minute)> _inside = [];
    private MadeLots _made = LotMaking.None;
    private Lot _lot = null!;

    public SuspectFactor Factor { get; private set; } = null!;

    /// <summary>The facts of each lot, without a mistake.</summary>
    public Dictionary<LotKey, List<Fact>> LotFacts { get; } = [];

    /// <summary>The facts of the suspect tool, without a mistake.</summary>
    public List<Fact> ToolFacts { get; } = [];

    public List<MadeUnit> Units { get; } = [];

    /// <summary>What was in the lots that were made of others.</summary>
    public MadeLots Contents => _made;

    public TrueHistory Make()
    {
        var key = new LotKey(choices.Chance(4) ? plant.Pin : plant.Adhesive, LotNumber.Parse("L1"));
        Factor = choices.Chance(3) && key.Item == plant.Adhesive ? new SuspectContainer(key, Containers[0]) : new SuspectLot(key);
        MakeLot(key);
        MakeTool();
        MakeUnits(key);
        foreach (var unit in Units.Where(u => u.Level > 0))
        {
            MakeWork(unit);
        }

        foreach (var top in Units.Where(u => u.Level == 2))
        {
            foreach (var marry in top.Work.Where(w => w.Step == Plant.Marry))
            {
                PutIn(top, Plant.First, Units.Where(u => u.Level == 1), marry.To);
                PutIn(top, Plant.Second, Units.Where(u => u.Level == 0), marry.To);
            }
        }

        for (var count = choices.Pick(3); count > 0; count--)
        {
            var sub = choices.Of([.. Units.Where(u => u.Level == 1)]);
            PutIn(sub, Plant.Extra, Units.Where(u => u.Level == 0), sub.Opened + choices.Pick(Now - sub.Opened));
        }

        return new(
            [.. Units.Select(u => new TrueUnit(u.Key, u.Opened, u.Variant, u.Lot, u.IsOfFactor))],
            [.. Units.SelectMany(u => u.Work)],
            [.. Units.SelectMany(u => u.Stays)],
            Factor,
            Tool.Of(plant.Tool, [.. ToolFacts.Select(f => new RecordedFact(id(), f, f.OccurredAt))]),
            Factor is SuspectLot ? plant.SupplierLot : null);
    }

    private void MakeLot(LotKey key)
    {
        var facts = LotFacts[key] = [];
        var time = choices.Pick(4);
        Tell(new LotReceived(key, plant.SupplierLot, null, null, IsReleased: true, SomeStations()) { OccurredAt = default });
        for (var count = choices.Pick(4); count > 0; count--)
        {
            time = Math.Min(time + 1 + choices.Pick(3), RandomGenealogy.Now - 1);
            Tell(choices.Pick(6) switch
            {
                0 => new LotMoved(key, SomeStations()) { OccurredAt = default },
                1 => new LotQuarantined(key, "doubt") { OccurredAt = default },
                2 => new LotReleased(key) { OccurredAt = default },
                3 => new LotEmptied(key) { OccurredAt = default },
                4 => new ContainerOpened(key, choices.Of(Containers), SomeStations()) { OccurredAt = default },
                _ => new ContainerEmptied(key, choices.Of(Containers)) { OccurredAt = default },
            });
        }

        _lot = Lot.Of(key, [.. facts.Select(f => new RecordedFact(id(), f, f.OccurredAt))]);
        var other = Named(key, "L2");
        LotFacts[other] = [new LotReceived(other, null, null, null, IsReleased: true, []) { OccurredAt = RandomGenealogy.At(0) }];
        var alternative = new LotKey(plant.Alternative, LotNumber.Parse("L1"));
        LotFacts[alternative] = [new LotReceived(alternative, null, null, null, IsReleased: true, []) { OccurredAt = RandomGenealogy.At(0) }];
        if (choices.Chance(3))
        {
            _made = new LotMaking(key, Factor, choices.Pick, id).Make();
            foreach (var (name, made) in _made.Lots)
            {
                LotFacts[name] = [.. made.Effective.Select(e => e.Fact)];
            }
        }

        void Tell(Fact fact) => facts.Add(fact with { OccurredAt = RandomGenealogy.At(time) });
    }

    private void MakeTool()
    {
        ToolFacts.Add(new ToolDefined(plant.Tool, plant.ToolClass, "driver", true) { OccurredAt = RandomGenealogy.At(0) });
        for (var (count, minute) = (choices.Pick(4), 0); count > 0; count--)
        {
            minute = Math.Min(minute + 1 + choices.Pick(3), Now - 1);
            var setting = choices.Pick(3) is var s and < 2 ? Plant.Settings[s] : (Code?)null;
            var reading = new EnteredQuantity(choices.Chance(2) ? 1m : 5m, "N.m");
            ToolFacts.Add((choices.Chance(3)
                ? (Fact)new ToolCalibrated(plant.Tool, choices.Chance(2), true, null, null) { OccurredAt = default }
                : new ToolChecked(plant.Tool, setting, [reading], new(0.9m, "N.m"), new(1.1m, "N.m"), null) { OccurredAt = default })
                with { OccurredAt = RandomGenealogy.At(minute) });
        }
    }

    private void MakeUnits(LotKey lot)
    {
        for (var level = 0; level < 3; level++)
        {
            for (var count = 2 + (level == 1 ? choices.Pick(2) : 0); count > 0; count--)
            {
                var item = level switch { 0 => plant.Pin, 1 => plant.Sub, _ => plant.Top };
                var unit = new MadeUnit(new(item, SerialNumber.Parse($"{Units.Count}")), level, choices.Pick(4));
                Units.Add(unit);
                if (choices.Chance(4))
                {
                    unit.Left = choices.Pick(3) switch { 0 => Place.InStock, 1 => Place.Shipped, _ => Place.Scrapped };
                    unit.LeftAt = 6 + choices.Pick(Now - 6);
                }

                if (level == 0)
                {
                    unit.IsOfFactor = lot.Item == plant.Pin && choices.Chance(2);
                    unit.Lot = unit.IsOfFactor ? lot.Lot : LotNumber.Parse("L2");
                    unit.MayBeUnnamed = !unit.IsOfFactor || LotPresence.Of(Factor, _lot).CouldBeUsed(DateTimeOffset.MinValue, RandomGenealogy.At(unit.Opened), null);
                }

                if (level == 1)
                {
                    unit.Variant = choices.Chance(3) ? Plant.Variant : null;
                    if (choices.Chance(4))
                    {
                        unit.MovedAfter = unit.Opened + choices.Pick(6);
                        unit.CarriesOver = choices.Pick(3) switch { 0 => [], 1 => [Plant.Bond], _ => [Plant.Bond, Plant.Screw] };
                    }
                }
            }
        }
    }

    private void MakeWork(MadeUnit unit)
    {
        var time = unit.Opened;
        for (var count = choices.Pick(unit.Level == 1 ? 4 : 3); count > 0; count--)
        {
            var from = time + choices.Pick(3);
            var to = Math.Max(from, time + 1) + choices.Pick(3);
            if (to >= Math.Min(Now, unit.Left == Place.InProcess ? Now : unit.LeftAt))
            {
                return;
            }

            var step = unit.Level == 2 ? (unit.Work.Count == 0 ? Plant.Marry : Plant.Seal)
                : unit.Work.Count == 0 && !choices.Chance(6) ? Plant.Bond
                : choices.Pick(3) == 1 ? Plant.Bond : Plant.Screw;
            unit.Work.Add(Attempt(unit, step, from, to));
            time = to;
        }
    }

    private TrueWork Attempt(MadeUnit unit, StepCode step, int from, int to)
    {
        var revision = unit.RevisionAt(to);
        var bound = plant.Bound(revision, step);
        var work = new TrueWork(unit.Key, step, from, to, bound.IsEmpty ? choices.Of(Plant.Stations) : bound[0], choices.Of(plant.People), revision);
        if (step == Plant.Bond)
        {
            work = WithMaterial(work);
        }

        if (unit.Level == 1 && Plant.NeedsTool(revision, step))
        {
            work = work with { Tool = choices.Chance(3) ? plant.OtherTool : plant.Tool, Setting = choices.Of(Plant.Settings), ToolAt = Within(work) };
        }

        work = work with { MeasuredAt = Within(work) };
        if (unit.Level == 1 && Plant.NeedsTorque(revision, step))
        {
            var torque = choices.Pick(5) switch { 0 => 1.1m, 1 => 1.0m, 2 => 1.2m, 3 => 0.95m, _ => 1.25m };
            decimal? uncertainty = choices.Chance(4) ? 0.05m : null;
            work = work with { Torque = torque, StandardUncertainty = uncertainty, Reading = torque + (uncertainty is null ? 0 : (choices.Pick(3) - 1) * 0.1m) };
        }

        if (Plant.NeedsLook(revision, step))
        {
            work = work with { Look = !choices.Chance(3) };
        }

        return step == Plant.Screw ? work with { Waited = unit.Work.LastOrDefault(w => w.Step == Plant.Bond) is { } bond ? from - bond.To : null } : work;
    }

    private TrueWork WithMaterial(TrueWork work)
    {
        var (at, container) = (Within(work), choices.Of(Containers));
        var isAdhesive = Factor.Lot.Item == plant.Adhesive;
        var minute = RandomGenealogy.At(at);
        var could = isAdhesive
            && LotPresence.Of(new SuspectContainer(Factor.Lot, container), _lot).CouldBeUsed(minute, minute, work.Station.Value);
        var lot = could && !choices.Chance(3) ? Factor.Lot
            : choices.Chance(4) ? new LotKey(plant.Alternative, LotNumber.Parse("L1"))
            : Named(new(plant.Adhesive, Factor.Lot.Lot), "L2");
        var isOf = lot == Factor.Lot && (Factor is SuspectLot || Factor is SuspectContainer { Container: var c } && c == container);
        if (isAdhesive && _made.Pick(at, work.Station, choices.Pick) is { } made)
        {
            // Of a lot that is mixed, chance says what was drawn.
            lot = made;
            isOf = _made.Share(made, at) switch { (true, false) => true, (true, true) => choices.Chance(2), _ => false };
        }

        return work with { Lot = lot, Container = container, UsedAt = at, IsOfFactor = isOf };
    }

    private void PutIn(MadeUnit parent, Code position, IEnumerable<MadeUnit> components, int from)
    {
        var end = Math.Min(Now, parent.Left == Place.InProcess ? Now : parent.LeftAt);
        for (var again = true; again && from < end && !parent.Stays.Exists(s => s.Position == position && s.To > from);)
        {
            MadeUnit[] free = [.. components.Where(c => IsFree(c, from))];
            if (free.Length == 0)
            {
                return;
            }

            var component = choices.Of(free);
            var to = choices.Chance(3) ? Math.Min(from + 1 + choices.Pick(6), Now) : Now;
            while (!Enumerable.Range(from, to - from).All(m => IsFree(component, m)))
            {
                to--;
            }

            // What left with its parent inside stays there.
            to = to >= end ? Now : to;
            if (to == Now && !Enumerable.Range(from, to - from).All(m => IsFree(component, m)))
            {
                return;
            }

            _inside.UnionWith(Enumerable.Range(from, to - from).Select(m => (component.Key, m)));
            parent.Stays.Add(new(component.Key, parent.Key, position, from, to));
            from = to + choices.Pick(2);
            again = choices.Chance(2);
        }
    }

    private bool IsFree(MadeUnit component, int minute) => component.IsHere(minute) && !_inside.Contains((component.Key, minute));

    private int Within(TrueWork work) => work.From + choices.Pick(work.To - work.From + 1);

    private ImmutableArray<StationCode> SomeStations() => choices.Pick(3) switch { 0 => [], 1 => [Plant.Stations[0]], _ => [Plant.Stations[1]] };

    private static LotKey Named(LotKey lot, string name) => lot with { Lot = LotNumber.Parse(name) };
}
