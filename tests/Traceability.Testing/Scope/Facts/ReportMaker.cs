using System.Collections.Immutable;
using Traceability.Domain.Facts;
using Traceability.Domain.Judging;
using Traceability.Domain.Lots;
using Traceability.Domain.Primitives;
using Traceability.Domain.ProductUnits;

namespace Traceability.Testing.Scope.Facts;

/// <summary>
/// Reports what truly happened: late, in parts, not at all, wrongly and then corrected, by mistake and then voided. What stands in the
/// end may be incomplete and undecided, never false. What is not reported at all, or void for good, is something that must have been
/// done: another record that stands needs it, or the unit has left.
/// </summary>
/// <param name="plant">The works.</param>
/// <param name="choices">Chooses.</param>
/// <param name="id">Gives ids.</param>
/// <param name="isWire">Only what a terminal with a right clock can send.</param>
internal sealed class ReportMaker(Plant plant, Choices choices, Func<Guid> id, bool isWire)
{
    private const int Now = RandomGenealogy.Now;
    private static readonly TimeSpan Off = TimeSpan.FromMinutes(1);

    private readonly HashSet<UnitKey> _married = [];
    private readonly HashSet<TrueStay> _displaced = [];
    private int _corrections;

    public List<(Guid Id, string Stream, Fact Fact)> Told { get; } = [];

    /// <summary>Tells of something that is about no unit.</summary>
    public void Tell(Fact right) => Tell(right, right with { OccurredAt = right.OccurredAt.AddMinutes(choices.Pick(3) - 1) });

    /// <summary>Tells of a unit.</summary>
    public void Tell(MadeUnit unit, IReadOnlyList<MadeUnit> all)
    {
        var opened = new UnitOpened(unit.Key, unit.Variant, [], unit.Lot) { OccurredAt = RandomGenealogy.At(unit.Opened) };
        if (choices.Hole(12))
        {
            Void(Say(opened));
        }
        else if (unit.Level == 0 && unit.MayBeUnnamed && choices.Hole(8))
        {
            Say(opened with { Lot = null });
        }
        else
        {
            Tell(opened, opened with { Variant = unit.Level == 1 && unit.Variant is null ? Plant.Variant : null, OccurredAt = opened.OccurredAt.AddMinutes(choices.Pick(3)) });
        }

        if (unit.MovedAfter is { } moved)
        {
            var at = RandomGenealogy.At(moved).AddSeconds(30);
            var move = new UnitMovedToRevision(unit.Key, unit.RevisionAt(moved + 1), unit.CarriesOver, "change", plant.People[0]) { OccurredAt = at };
            Tell(move, move with { Revision = unit.RevisionAt(moved), CarriesOver = [Plant.Bond] });
        }

        Fact? left = unit.Left switch
        {
            Place.InStock => new UnitReleased(unit.Key) { OccurredAt = RandomGenealogy.At(unit.LeftAt) },
            Place.Shipped => new UnitShipped(unit.Key, "Fell End Supplies", null) { OccurredAt = RandomGenealogy.At(unit.LeftAt) },
            Place.Scrapped => new UnitScrapped(unit.Key, "cracked") { OccurredAt = RandomGenealogy.At(unit.LeftAt) },
            _ => null,
        };
        if (left is not null)
        {
            Tell(left, left with { OccurredAt = RandomGenealogy.At(unit.LeftAt - choices.Pick(4)) });
        }
        else if (choices.Chance(10))
        {
            Void(Say(new UnitShipped(unit.Key, "Fell End Supplies", null) { OccurredAt = RandomGenealogy.At(choices.Pick(Now)) }));
        }

        Attempts(unit, all);
        Stays(unit, all);
    }

    private void Attempts(MadeUnit unit, IReadOnlyList<MadeUnit> all)
    {
        var standing = new List<TrueWork>();
        for (var i = unit.Work.Count - 1; i >= 0; i--)
        {
            var work = unit.Work[i];
            var isSole = unit.Work.Count(w => w.Step == work.Step) == 1;
            var mustBe = (unit.Left is Place.InStock or Place.Shipped && unit.Counts(work, unit.LeftAt))
                || standing.Exists(s => (s.Step, work.Step) is var pair && (pair == (Plant.Screw, Plant.Bond) || pair == (Plant.Seal, Plant.Marry)) && unit.Counts(work, s.To));
            if (isSole && mustBe && choices.Hole(8))
            {
                Forget(unit, work, null);
                continue;
            }

            Attempt(unit, i, all, isSole, standing);
        }

        if (unit.Level > 0 && choices.Hole(10))
        {
            var phantom = Wrong(Bare(unit, choices.Of<StepCode>(unit.Level == 1 ? [Plant.Bond, Plant.Screw] : [Plant.Marry, Plant.Seal])), all);
            Void(Say(phantom));
        }

        // Begun and given up, while nothing else was done to it.
        var minute = Math.Min(Now - 1, unit.Opened + choices.Pick(8));
        if (unit.Level > 0 && !unit.Work.Exists(w => w.From <= minute && minute <= w.To) && choices.Hole(10))
        {
            Say(new StepStarted(unit.Key, unit.Level == 1 ? Plant.Bond : Plant.Seal)
            {
                OccurredAt = RandomGenealogy.At(minute), Station = choices.Of(Plant.Stations), Person = choices.Of(plant.People),
            });
        }
    }

    private StepCompleted Bare(MadeUnit unit, StepCode step) => new(unit.Key, step, null, false, [], [], [], [], [], [], [], null)
    {
        OccurredAt = RandomGenealogy.At(Math.Min(Now - 1, unit.Opened + choices.Pick(8))), Station = choices.Of(Plant.Stations), Person = choices.Of(plant.People),
    };

    private void Attempt(MadeUnit unit, int index, IReadOnlyList<MadeUnit> all, bool isSole, List<TrueWork> standing)
    {
        var work = unit.Work[index];
        var fact = Completion(unit, work);
        if (!isWire && IsAlone(unit, index) && choices.Hole(6))
        {
            fact = Doubt(fact, choices.Pick(3) - 1);
        }
        else if (choices.Chance(3) && !unit.Work.Exists(w => w.Step == work.Step && w.To == work.From))
        {
            // (A start in the moment of a completion could be either one's.)
            Tell(new StepStarted(unit.Key, work.Step) { OccurredAt = RandomGenealogy.At(work.From), Station = fact.Station, Person = fact.Person });
        }

        if (isSole && choices.Hole(8))
        {
            Void(Say(fact));
            Forget(unit, work, fact);
        }
        else if (!isWire && choices.Hole(30))
        {
            Told.Add((id(), StreamNames.Of(unit.Key), new UnreadableFact("step_completed", "unknown member") { OccurredAt = RandomGenealogy.At(Now) }));
            HasUnreadable = true;
            Forget(unit, work, fact);
        }
        else
        {
            Tell(fact, Wrong(fact, all));
            standing.Add(work);
            _ = work.Step == Plant.Marry && _married.Add(unit.Key);
        }
    }

    // Far enough from whatever else happened to it that an error of the clock doesn't change the order.
    private static bool IsAlone(MadeUnit unit, int index)
    {
        var work = unit.Work[index];
        int[] others = [unit.Opened, .. unit.Work.Where((_, i) => i != index).SelectMany(w => new[] { w.From, w.To }), unit.MovedAfter ?? unit.Opened, unit.LeftAt];
        return unit.Level == 1 && work.To < Now - 2 && Array.TrueForAll(others, o => Math.Abs(o - work.To) >= 3 && Math.Abs(o - work.From) >= 3);
    }

    private static StepCompleted Doubt(StepCompleted fact, int off) => fact with
    {
        OccurredAt = fact.OccurredAt.AddMinutes(off), StartedAt = fact.StartedAt?.AddMinutes(off), Clock = new(TimeSpan.Zero, Off, Doubtful: false),
    };

    private StepCompleted Completion(MadeUnit unit, TrueWork work)
    {
        ImmutableArray<MaterialUse> materials = [];
        if (work.Lot is { } lot && !choices.Hole(6))
        {
            var other = lot.Item == plant.Adhesive ? LotNumber.Parse(lot.Lot.Value == "L1" ? "L2" : "L1") : LotNumber.Parse("L9");
            materials = [new(lot.Item, lot.Item == plant.Adhesive && choices.Hole(8) ? [lot.Lot, other] : [lot.Lot], choices.Hole(6) ? null : work.Container, null, null)];
        }

        return new(
            unit.Key,
            work.Step,
            choices.Chance(2) ? null : RandomGenealogy.At(work.From),
            false,
            [],
            materials,
            work.Tool is { } tool && !choices.Hole(6) ? [new(tool, choices.Hole(6) ? null : work.Setting, null)] : [],
            work.Reading is { } reading && !choices.Hole(6) ? [Measured(reading, work.StandardUncertainty)] : [],
            work.Look is { } look && !choices.Hole(6) ? [new(Plant.Look, look)] : [],
            work.Step == Plant.Marry ? [.. Fitted(unit, work)] : [],
            [],
            null)
        {
            OccurredAt = RandomGenealogy.At(work.To),
            Station = !isWire && choices.Hole(10) ? null : work.Station,
            Person = choices.Hole(10) ? null : work.Person,
        };
    }

    private Measurement Measured(decimal newtonMetres, decimal? uncertainty) => choices.Chance(3)
        ? new(Plant.Torque, newtonMetres * 100, "cN.m") { StandardUncertainty = uncertainty * 100 }
        : new(Plant.Torque, newtonMetres, "N.m") { StandardUncertainty = uncertainty };

    // What is put in at a step is named by its record, by a record of its own, or not at all.
    private IEnumerable<ComponentUse> Fitted(MadeUnit unit, TrueWork work)
    {
        foreach (var stay in unit.Stays.Where(s => s.From == work.To && s.Position != Plant.Extra))
        {
            if (choices.Hole(5))
            {
                Unnamed.Add(stay);
            }
            else if (choices.Chance(4))
            {
                var installed = new ComponentInstalled(unit.Key, stay.Position, stay.Component, Plant.Marry) { OccurredAt = RandomGenealogy.At(stay.From) };
                Tell(installed, installed with { OccurredAt = installed.OccurredAt.AddMinutes(1) });
            }
            else
            {
                yield return new(stay.Position, stay.Component);
            }
        }
    }

    // What only this record named.
    private void Forget(MadeUnit unit, TrueWork work, StepCompleted? fact) => Unnamed.UnionWith(
        unit.Stays.Where(s => work.Step == Plant.Marry && s.From == work.To && s.Position != Plant.Extra && (fact is null || fact.Components.Any(c => c.Position == s.Position))));

    /// <summary>Whether something that was told can't be read.</summary>
    public bool HasUnreadable { get; private set; }

    /// <summary>What was inside and of which no record tells when it was put in.</summary>
    public HashSet<TrueStay> Unnamed { get; } = [];

    private void Stays(MadeUnit unit, IReadOnlyList<MadeUnit> all)
    {
        var marriedAt = unit.Work.Where(w => w.Step == Plant.Marry).Select(w => w.To).DefaultIfEmpty(-1).First();
        foreach (var stay in unit.Stays.OrderBy(s => s.From))
        {
            if (stay.Position == Plant.Extra || stay.From != marriedAt)
            {
                PutInLater(unit, stay, all);
            }

            var next = unit.Stays.Where(s => s.Position == stay.Position && s.From >= stay.To).MinBy(s => s.From);
            if (stay.To < Now && Unnamed.Contains(stay))
            {
                // Where nothing tells that the step was done at all, what is there later would pass for what it put in; and of what was
                // there between two others that are told, neither end would be.
                if ((next is not null && (!_married.Contains(unit.Key) || stay.From != marriedAt)) || choices.Chance(2))
                {
                    Say(new ComponentRemoved(unit.Key, stay.Position, stay.Component, "worn") { OccurredAt = RandomGenealogy.At(stay.To) });
                }
            }
            else if (stay.To < Now)
            {
                // What takes its place in the same moment may say it all.
                if (next?.From == stay.To && choices.Chance(3))
                {
                    _displaced.Add(stay);
                }
                else
                {
                    var removed = new ComponentRemoved(unit.Key, stay.Position, stay.Component, "worn") { OccurredAt = RandomGenealogy.At(stay.To) };
                    Tell(removed, removed with { OccurredAt = removed.OccurredAt.AddMinutes(-choices.Pick(2)) });
                }
            }
        }

        if (choices.Chance(10) && unit.Level > 0)
        {
            var other = choices.Of([.. all.Where(u => u.Level < unit.Level)]);
            var at = RandomGenealogy.At(choices.Pick(Now));
            Void(Say(choices.Chance(2)
                ? new ComponentInstalled(unit.Key, Plant.Extra, other.Key, null) { OccurredAt = at }
                : new ComponentRemoved(unit.Key, Plant.First, other.Key, null) { OccurredAt = at }));
        }
    }

    private void PutInLater(MadeUnit unit, TrueStay stay, IReadOnlyList<MadeUnit> all)
    {
        var before = unit.Stays.Where(s => s.Position == stay.Position && s.To <= stay.From).MaxBy(s => s.To);
        if (stay.Position != Plant.Extra && before is not null && !_displaced.Contains(before) && !Unnamed.Contains(before)
            && unit.Left is Place.InStock or Place.Shipped && choices.Hole(4))
        {
            Unnamed.Add(stay);
            return;
        }

        var installed = new ComponentInstalled(unit.Key, stay.Position, stay.Component, choices.Chance(2) ? Plant.Marry : null) { OccurredAt = RandomGenealogy.At(stay.From) };
        Tell(installed, installed with { Component = choices.Of([.. all.Where(u => u.Level < unit.Level)]).Key });
    }

    // Mistaken in much: whatever of it stayed would be told from the truth.
    private StepCompleted Wrong(StepCompleted right, IReadOnlyList<MadeUnit> all)
    {
        var at = NotYet(right.OccurredAt.AddMinutes(choices.Pick(4) - 1));
        return right with
        {
            OccurredAt = at,
            StartedAt = choices.Chance(2) ? at.AddMinutes(-choices.Pick(3)) : null,
            Station = choices.Of(Plant.Stations),
            Person = choices.Of(plant.People),
            Materials = choices.Chance(2) ? [] : [new(plant.Adhesive, [LotNumber.Parse(choices.Chance(2) ? "L2" : "L1")], ContainerNumber.Parse("C1"), null, null)],
            Tools = choices.Chance(2) ? [] : [new(choices.Chance(2) ? plant.OtherTool : plant.Tool, choices.Of(Plant.Settings), null)],
            Measurements = choices.Chance(2) ? [] : [new(Plant.Torque, choices.Chance(2) ? 0.5m : 2m, "N.m")],
            Checks = choices.Chance(2) ? [] : [new(Plant.Look, choices.Chance(2))],
            Components = right.Step != Plant.Marry || choices.Chance(2) ? [] : [new(Plant.First, choices.Of([.. all.Where(u => u.Level == 1)]).Key)],
        };
    }

    // Nothing is told of the time to come.
    private static DateTimeOffset NotYet(DateTimeOffset at) => at < RandomGenealogy.At(Now) ? at : RandomGenealogy.At(Now - 1);

    private void Tell(Fact right, Fact wrong)
    {
        wrong = wrong with { OccurredAt = NotYet(wrong.OccurredAt) };
        switch (choices.Pick(14))
        {
            case 1:
                Correct(Say(wrong), right);
                break;
            case 2:
                Void(Correct(Say(right), wrong));
                break;
            // (What there can be only one of is refused while the mistaken one stands.)
            case 3 when !isWire || right is not (UnitOpened or LotReceived or ILotInflow):
                Void(Say(wrong));
                Say(right);
                break;
            case 4:
                Void(Void(Say(right)));
                break;
            case 5:
                var twice = Say(wrong);
                Correct(twice, wrong with { Person = plant.People[1] });
                Correct(twice, right);
                break;
            default:
                Say(right);
                break;
        }
    }

    private Guid Say(Fact fact) => Say(StreamNames.Of(fact)!, fact);

    private Guid Say(string stream, Fact fact)
    {
        Told.Add((id(), stream, fact));
        return Told[^1].Id;
    }

    private Guid Correct(Guid record, Fact replacement) =>
        Say(StreamOf(record), new RecordCorrected(record, replacement, "misread", plant.People[0]) { OccurredAt = Later() });

    private Guid Void(Guid record) => Say(StreamOf(record), new RecordVoided(record, "mistaken", plant.People[0]) { OccurredAt = Later() });

    private string StreamOf(Guid record) => Told.Find(t => t.Id == record).Stream;

    private DateTimeOffset Later() => RandomGenealogy.At(Now + ++_corrections);
}
