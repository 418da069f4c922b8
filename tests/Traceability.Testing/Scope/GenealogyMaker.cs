using System.Collections.Immutable;
using Traceability.Domain.Facts;
using Traceability.Domain.Judging;
using Traceability.Domain.Lots;
using Traceability.Domain.Primitives;
using Traceability.Domain.Scope;

namespace Traceability.Testing.Scope;

/// <summary>Plays out a history and writes down what the records would say of it.</summary>
internal sealed class GenealogyMaker(IReadOnlyList<int> choices, int holesMax)
{
    private static readonly ItemNumber Adhesive = ItemNumber.Parse("ADH");
    private static readonly ItemNumber Other = ItemNumber.Parse("ADH-ALT");
    private static readonly ItemNumber[] Levels = [ItemNumber.Parse("PIN"), ItemNumber.Parse("SUB"), ItemNumber.Parse("TOP")];
    private static readonly ItemNumber PinAlternative = ItemNumber.Parse("PIN-ALT");
    private static readonly StationCode[] Stations = [StationCode.Parse("ST-1"), StationCode.Parse("ST-2")];
    private static readonly LotNumber Suspect = LotNumber.Parse("L1");
    private static readonly ContainerNumber[] Containers = [ContainerNumber.Parse("C1"), ContainerNumber.Parse("C2")];

    private readonly List<RecordedFact> _lotFacts = [];
    private readonly List<MadeUnit> _units = [];
    private readonly Dictionary<(string Unit, int Minute), string> _inside = [];
    private MadeLots _made = LotMaking.None;
    private int _next;
    private int _ids;
    private int _holes;

    public RandomGenealogy Make()
    {
        // Seldom the suspect is a lot of serialised pins instead of adhesive.
        var lotKey = new LotKey(Chance(4) ? Levels[0] : Adhesive, Suspect);
        SuspectFactor factor = Chance(3) ? new SuspectContainer(lotKey, Containers[0]) : new SuspectLot(lotKey);
        MakeLot(lotKey);
        var lot = Lot.Of(lotKey, [.. _lotFacts]);
        _made = Chance(2) ? new LotMaking(lotKey, factor, Pick, Id).Make() : LotMaking.None;
        MakeUnits(lotKey, lot, factor);
        foreach (var unit in _units)
        {
            for (var uses = Pick(3); uses > 0 && lotKey.Item == Adhesive; uses--)
            {
                Use(unit, lot, lotKey, factor);
            }
        }

        for (var installs = 2 + Pick(12); installs > 0; installs--)
        {
            Install();
        }

        return new(factor, lot, _made, [.. _units.Select(u => u.Judgement())], Play());
    }

    private void MakeLot(LotKey key)
    {
        var time = Pick(4);
        if (!Chance(8))
        {
            Tell(time, new LotReceived(key, null, null, null, IsReleased: true, SomeStations()) { OccurredAt = default });
        }

        for (var facts = Pick(4); facts > 0; facts--)
        {
            time = Math.Min(time + 1 + Pick(3), RandomGenealogy.Now - 1);
            Tell(time, Pick(6) switch
            {
                0 => new LotMoved(key, SomeStations()) { OccurredAt = default },
                1 => new LotQuarantined(key, "doubt") { OccurredAt = default },
                2 => new LotReleased(key) { OccurredAt = default },
                3 => new LotEmptied(key) { OccurredAt = default },
                4 => new ContainerOpened(key, Containers[Pick(2)], SomeStations()) { OccurredAt = default },
                _ => new ContainerEmptied(key, Containers[Pick(2)]) { OccurredAt = default },
            });
        }
    }

    private void MakeUnits(LotKey lotKey, Lot lot, SuspectFactor factor)
    {
        for (var level = 0; level < 3; level++)
        {
            for (var count = 2 + Pick(2); count > 0; count--)
            {
                var item = level == 0 && Chance(3) ? PinAlternative : Levels[level];
                var unit = new MadeUnit(new(item, SerialNumber.Parse($"{_units.Count}")), level, Pick(4));
                _units.Add(unit);
                if (Chance(5))
                {
                    unit.Leave(Chance(2) ? Place.Shipped : Place.Scrapped, 4 + Pick(8));
                }

                if (level == 0 && item == lotKey.Item)
                {
                    OwnLot(unit, lot, lotKey, factor);
                }
            }
        }
    }

    // A bought pin says which lot it came in, and seldom which bag of it; or it doesn't.
    private void OwnLot(MadeUnit unit, Lot lot, LotKey key, SuspectFactor factor)
    {
        if (Hole(4) == 1)
        {
            var isLate = Chance(3);
            var by = isLate ? RandomGenealogy.Now - 1 : unit.Opened;
            unit.IsBorn = Chance(2) && (factor is SuspectContainer || LotPresence.Of(factor, lot).CouldBeUsed(DateTimeOffset.MinValue, RandomGenealogy.At(by), null));
            unit.Gaps.Add(new(
                GapKind.OwnLot, isLate ? GapReason.Voided : GapReason.NotRecorded, null, Id(), null, [unit.Key.Item], null,
                DateTimeOffset.MinValue, isLate ? null : RandomGenealogy.At(by), null));
            return;
        }

        var isSuspect = Chance(2) && lot.Received is not null;
        var container = Chance(2) ? Containers[Pick(2)] : (ContainerNumber?)null;
        unit.IsBorn = isSuspect && factor switch
        {
            SuspectContainer c => container is null ? unit.Opened % 2 == 0 : container == c.Container,
            _ => true,
        };
        if (_made.Pick(unit.Opened, null, Pick) is { } made)
        {
            unit.IsBorn = IsDrawn(made, unit.Opened);
            unit.Usages.Add(new(null, Id(), null, made, container, IsOneOf: false, RandomGenealogy.At(unit.Opened), RandomGenealogy.At(unit.Opened), null));
            return;
        }

        unit.Usages.Add(new(
            null, Id(), null, isSuspect ? key : key with { Lot = LotNumber.Parse("L2") }, container, IsOneOf: false,
            RandomGenealogy.At(unit.Opened), RandomGenealogy.At(unit.Opened), null));
    }

    private void Use(MadeUnit unit, Lot lot, LotKey key, SuspectFactor factor)
    {
        var from = unit.Opened + Pick(RandomGenealogy.Now - unit.Opened);
        var to = Math.Min(from + Pick(3), RandomGenealogy.Now - 1);
        var at = from + Pick(to - from + 1);
        var station = Stations[Pick(2)];
        var container = Containers[Pick(2)];
        var could = LotPresence.Of(new SuspectContainer(key, container), lot).CouldBeUsed(RandomGenealogy.At(at), RandomGenealogy.At(at), station.Value);
        var used = could && !Chance(3) ? key : Chance(4) ? new LotKey(Other, Suspect) : key with { Lot = LotNumber.Parse("L2") };
        if (_made.Pick(at, station, Pick) is { } made)
        {
            used = made;
        }

        if (_made.Lots.ContainsKey(used) ? IsDrawn(used, at) : used == key && (factor is SuspectLot || factor is SuspectContainer { Container: var c } && c == container))
        {
            unit.ExposedFrom.Add(at);
        }

        var code = Code.Parse($"R{_ids}");
        var step = StepCode.Parse("BOND");
        var record = Id();
        var hole = Hole(5);
        if (hole == 1)
        {
            unit.Gaps.Add(new(
                GapKind.Lot, Chance(2) ? GapReason.Voided : GapReason.NotRecorded, step, record, code, [Adhesive, Other], null,
                RandomGenealogy.At(from), Chance(4) ? null : RandomGenealogy.At(to), Chance(3) ? null : station));
            return;
        }

        var isContainerMissing = hole == 2;
        var other = key with { Lot = LotNumber.Parse("L2") };
        ImmutableArray<LotKey> named = hole == 3 && used.Item == Adhesive
            ? used != key && used != other ? [used, Chance(2) ? other : key] : [key, other]
            : [used];
        foreach (var lotNamed in named)
        {
            unit.Usages.Add(new(
                step, record, code, lotNamed, isContainerMissing ? null : container, named.Length > 1,
                RandomGenealogy.At(from), RandomGenealogy.At(to), station));
        }

        if (isContainerMissing && Chance(2))
        {
            unit.Gaps.Add(new(
                GapKind.Container, GapReason.NotRecorded, step, record, code, [used.Item], used, RandomGenealogy.At(from), RandomGenealogy.At(to), station));
        }
    }

    // Of a lot that is mixed, chance says what was drawn.
    private bool IsDrawn(LotKey lot, int minute) => _made.Share(lot, minute) switch
    {
        (true, false) => true,
        (true, true) => Chance(2),
        _ => false,
    };

    private void Install()
    {
        var component = _units[Pick(_units.Count)];
        var isNext = !Chance(4);
        var parents = _units.Where(u => isNext ? u.Level == component.Level + 1 : u.Level > component.Level).ToArray();
        if (parents.Length == 0)
        {
            return;
        }

        var parent = parents[Pick(parents.Length)];
        var from = component.Opened + Pick(RandomGenealogy.Now - component.Opened);
        var to = !Chance(3) ? Math.Min(from + 1 + Pick(8), RandomGenealogy.Now) : RandomGenealogy.Now;
        while (to > from && Enumerable.Range(from, to - from).Any(m => !component.IsHere(m) || _inside.ContainsKey((component.Name, m))))
        {
            to--;
        }

        if (to <= from)
        {
            return;
        }

        for (var minute = from; minute < to; minute++)
        {
            _inside[(component.Name, minute)] = parent.Name;
        }

        // A shipped or scrapped component that isn't taken out stays where it is.
        var position = Code.Parse($"P{_ids}");
        var isInside = to == RandomGenealogy.Now;
        if (Hole(3) == 1)
        {
            ImmutableArray<ItemNumber> items = component.Level == 0 ? [Levels[0], PinAlternative] : [component.Key.Item];
            parent.Gaps.Add(new(
                GapKind.Serial, GapReason.NotRecorded, StepCode.Parse("MARRY"), Id(), position, items, null,
                RandomGenealogy.At(Math.Max(0, from - Pick(2))), Chance(5) ? null : RandomGenealogy.At(Math.Min(RandomGenealogy.Now - 1, from + Pick(2))), null));
            return;
        }

        // By a doubtful clock, which may have gone wrong in between, either time may be told a minute early or late.
        var isDoubtful = from > 1 && to - from > 3 && (isInside || to < RandomGenealogy.Now - 2) && Hole(2) == 1;
        parent.Installations.Add(new(
            parent.Key, position, component.Key, StepCode.Parse("MARRY"), Id(), Told(from), isInside ? null : Told(to))
        {
            Uncertainty = TimeSpan.FromMinutes(isDoubtful ? 1 : 0),
        });

        DateTimeOffset Told(int minute) => RandomGenealogy.At(minute + (isDoubtful ? Pick(3) - 1 : 0));
    }

    private ImmutableDictionary<string, bool[]> Play()
    {
        var carries = _units.ToDictionary(u => u.Name, _ => new bool[RandomGenealogy.Now], StringComparer.Ordinal);
        for (var minute = 0; minute < RandomGenealogy.Now; minute++)
        {
            foreach (var unit in _units.OrderBy(u => u.Level))
            {
                var now = unit.IsBorn || unit.ExposedFrom.Any(at => at <= minute);
                now |= _units.Any(c => c.Level < unit.Level
                    && _inside.TryGetValue((c.Name, minute), out var holder) && string.Equals(holder, unit.Name, StringComparison.Ordinal)
                    && carries[c.Name][minute]);
                carries[unit.Name][minute] = now;
            }
        }

        return carries.ToImmutableDictionary(StringComparer.Ordinal);
    }

    private ImmutableArray<StationCode> SomeStations() => Pick(3) switch
    {
        0 => [],
        1 => [Stations[0]],
        _ => [Stations[1]],
    };

    private void Tell(int minute, Fact fact) =>
        _lotFacts.Add(new(Id(), fact with { OccurredAt = RandomGenealogy.At(minute) }, RandomGenealogy.At(minute)));

    private Guid Id() => new(++_ids, 0, 0, [0, 0, 0, 0, 0, 0, 0, 0]);

    private int Pick(int below) => below <= 1 ? 0 : Math.Abs(_next < choices.Count ? choices[_next++] % below : 0);

    private bool Chance(int oneIn) => Pick(oneIn) == 1;

    private int Hole(int kinds)
    {
        if (_holes >= holesMax || Pick(kinds) is not (> 0 and var hole))
        {
            return 0;
        }

        _holes++;
        return hole;
    }

    private sealed class MadeUnit(UnitKey key, int level, int opened)
    {
        private Place _place = Place.InProcess;
        private int _since = opened;

        public UnitKey Key { get; } = key;

        public string Name { get; } = key.ToString();

        public int Level { get; } = level;

        public int Opened { get; } = opened;

        public bool IsBorn { get; set; }

        public List<int> ExposedFrom { get; } = [];

        public List<MaterialUsage> Usages { get; } = [];

        public List<TraceGap> Gaps { get; } = [];

        public List<Installation> Installations { get; } = [];

        public void Leave(Place place, int minute)
        {
            _place = place;
            _since = minute;
        }

        public bool IsHere(int minute) => minute >= Opened && (_place == Place.InProcess || minute < _since);

        public UnitJudgement Judgement() => new(
            Key,
            new(null, [], null, RandomGenealogy.At(Opened), null, _place, null, RandomGenealogy.At(_since), null, null, null, false, false),
            [],
            [],
            [],
            [.. Usages],
            [.. Gaps],
            [.. Installations]);
    }
}
