using System.Collections.Immutable;
using Traceability.Domain.Facts;
using Traceability.Domain.Judging;
using Traceability.Domain.Primitives;
using Traceability.Domain.Scope;
using Traceability.Domain.Tools;

namespace Traceability.Testing.Scope;

/// <summary>A made-up history with work on its units: tools, people, stations, values, intervals, each recorded wholly, partly or not at all.</summary>
/// <remarks>Records may be incomplete and undecided, never false.</remarks>
public sealed class RandomWork
{
    /// <summary>The tool that may be suspected.</summary>
    public static readonly ToolNumber ToolNumber = ToolNumber.Parse("SD-1");

    /// <summary>The stations there are.</summary>
    public static readonly ImmutableArray<StationCode> Stations = [StationCode.Parse("ST-1"), StationCode.Parse("ST-2")];

    /// <summary>The people there are.</summary>
    public static readonly ImmutableArray<PersonCode> People = [PersonCode.Parse("P-1"), PersonCode.Parse("P-2")];

    /// <summary>The settings that facts of the tool name, and one that none names.</summary>
    public static readonly ImmutableArray<Code> Settings = [Code.Parse("S1"), Code.Parse("S2"), Code.Parse("S3")];

    /// <summary>The revisions there are.</summary>
    public static readonly ImmutableArray<RevisionCode> Revisions = [RevisionCode.Parse("A"), RevisionCode.Parse("B")];

    private static readonly ToolNumber OtherTool = ToolNumber.Parse("SD-2");
    private static readonly Code ToolClass = Code.Parse("DRIVER");
    private static readonly Code Torque = Code.Parse("TORQUE");
    private static readonly Code Cure = Code.Parse("CURE");
    private static readonly StepCode[] Steps = [StepCode.Parse("BOND"), StepCode.Parse("SCREW")];

    private readonly IReadOnlyList<int> _choices;
    private int _next;
    private int _ids = 1_000;
    private int _holes;

    private RandomWork(RandomGenealogy history, IReadOnlyList<int> choices, int holesMax)
    {
        _choices = choices;
        _holes = holesMax;
        History = history;
        Tool = MakeTool();
        Records = [.. history.Records.Select(Work)];
        Suspect = MakeSuspect(2);
    }

    /// <summary>The history that the work is added to.</summary>
    public RandomGenealogy History { get; }

    /// <summary>The tool's facts.</summary>
    public Tool Tool { get; }

    /// <summary>What the records say.</summary>
    public ImmutableArray<UnitJudgement> Records { get; }

    /// <summary>What is suspected: one thing, or several combined.</summary>
    public Suspect Suspect { get; }

    /// <summary>What a search must know beside the rows.</summary>
    public ScopeKnowledge Knowledge => new(ImmutableDictionary<LotKey, IReadOnlyDictionary<LotKey, Domain.Lots.Lot>>.Empty
        .Add(History.Factor.Lot, History.Lots.SetItem(History.Factor.Lot, History.Lot)))
    {
        Tools = ImmutableDictionary<ToolNumber, Tool>.Empty.Add(ToolNumber, Tool),
    };

    /// <summary>Makes one from choices; the same choices make the same one.</summary>
    /// <param name="choices">Numbers of any size; used up in order, then zero.</param>
    /// <param name="holesMax">At most so many records of the history, and so many of the work, are incomplete.</param>
    public static RandomWork From(IReadOnlyList<int> choices, int holesMax)
    {
        // The halves are used apart, so that a change of one leaves the other as it is.
        int[] even = [.. choices.Where((_, i) => i % 2 == 0)];
        int[] odd = [.. choices.Where((_, i) => i % 2 == 1)];
        return new(RandomGenealogy.From(even, holesMax), odd, holesMax);
    }

    /// <inheritdoc />
    public override string ToString()
    {
        var lines = new List<string> { $"question: {Suspect}" };
        lines.AddRange(Tool.Effective.Select(f => $"tool at {RandomGenealogy.MinuteOf(f.At)}: {f.Fact}"));
        foreach (var unit in Records)
        {
            lines.Add($"{unit.Unit} opened {RandomGenealogy.MinuteOf(unit.Status.OpenedAt!.Value)} {unit.Status.Variant} {unit.Status.Revision}");
            lines.AddRange(unit.Steps.Select(s => $"  step {s.Step} [{Minute(s.Earliest)}, {Minute(s.Latest)}] at {s.Station} by {s.Person} rev {s.Revision}"));
            lines.AddRange(unit.ToolUsages.Select(u => $"  tool {u.Tool} {u.Setting} {u.Step} [{Minute(u.From)}, {Minute(u.To)}] at {u.Station}"));
            lines.AddRange(unit.Measurements.Select(m => $"  value {m.Value} u {m.StandardUncertainty} {m.Passed} {m.Step} [{Minute(m.From)}, {Minute(m.To)}] at {m.Station}"));
            lines.AddRange(unit.IntervalResults.Select(i => $"  interval {i.Least} to {i.Most} {i.ToStep} at {Minute(i.At)} {i.Station}"));
            lines.AddRange(unit.WorkGaps.Select(g => $"  gap {g.Kind} {g.Reason} {g.Step} [{Minute(g.From)}, {(g.To is { } to ? Minute(to) : "-")}] at {g.Station} of {string.Join('|', g.Stations)} by {g.Person}"));
        }

        return string.Join("\n", lines) + "\n" + History;

        static string Minute(DateTimeOffset at) => $"{RandomGenealogy.MinuteOf(at)}";
    }

    private Tool MakeTool()
    {
        var facts = new List<RecordedFact> { Told(0, new ToolDefined(ToolNumber, ToolClass, "driver", true) { OccurredAt = default }) };
        for (var (count, minute) = (Pick(5), 0); count > 0; count--)
        {
            minute = Math.Min(minute + 1 + Pick(3), RandomGenealogy.Now - 1);
            var setting = Pick(3) is var s and < 2 ? Settings[s] : (Code?)null;
            var reading = new EnteredQuantity(Chance(2) ? 1m : 5m, "N.m");
            facts.Add(Told(minute, Chance(3)
                ? new ToolCalibrated(ToolNumber, Chance(2), true, null, null) { OccurredAt = default }
                : new ToolChecked(ToolNumber, setting, [reading], new(0.9m, "N.m"), new(1.1m, "N.m"), null) { OccurredAt = default }));
        }

        return Tool.Of(ToolNumber, [.. facts]);
    }

    private RecordedFact Told(int minute, Fact fact) => new(Id(), fact with { OccurredAt = RandomGenealogy.At(minute) }, RandomGenealogy.At(minute));

    private UnitJudgement Work(UnitJudgement unit)
    {
        var opened = RandomGenealogy.MinuteOf(unit.Status.OpenedAt!.Value);
        unit = unit with { Status = unit.Status with { Variant = Chance(2) ? VariantCode.Parse("V1") : null, Revision = Revisions[Pick(2)] } };
        for (var count = Pick(3); count > 0; count--)
        {
            var from = opened + Pick(RandomGenealogy.Now - opened);
            unit = Attempt(unit, new(Steps[Pick(2)], from, Math.Min(from + Pick(3), RandomGenealogy.Now - 1), Stations[Pick(2)], People[Pick(2)]));
        }

        return unit;
    }

    private UnitJudgement Attempt(UnitJudgement unit, Made made)
    {
        // What the step is bound to holds where it was done.
        ImmutableArray<StationCode> bound = Chance(2) ? [made.Station] : [];
        if (Hole(4))
        {
            return Missing(unit, made, bound);
        }

        var station = Hole(5) ? (StationCode?)null : made.Station;
        var person = Hole(5) ? (PersonCode?)null : made.Person;
        var (from, to) = (RandomGenealogy.At(made.From), RandomGenealogy.At(made.To));
        unit = unit with
        {
            Steps = unit.Steps.Add(new(made.Step, unit.Steps.Length + 1, Id(), Chance(4) ? null : unit.Status.Revision, from, to, default, station, person, false, true, 0, 0) { Earliest = from, Latest = to }),
        };
        unit = WithTool(unit, made, station, bound);
        unit = WithValue(unit, made, station, bound);
        return WithInterval(unit, made, station, bound);
    }

    private UnitJudgement Missing(UnitJudgement unit, Made made, ImmutableArray<StationCode> bound)
    {
        var reason = Pick(3) switch { 0 => GapReason.Voided, 1 => GapReason.Unreadable, _ => GapReason.StepNotRecorded };
        DateTimeOffset? to = Chance(4) ? null : RandomGenealogy.At(made.To);
        var record = Id();
        return unit with
        {
            WorkGaps =
            [
                .. unit.WorkGaps,
                Gap(WorkGapKind.Step, null, null),
                Gap(WorkGapKind.Tool, Code.Parse("DRV"), ToolClass),
                Gap(WorkGapKind.Characteristic, Torque, null),
                Gap(WorkGapKind.Interval, Cure, null),
            ],
        };

        WorkGap Gap(WorkGapKind kind, Code? requirement, Code? toolClass) =>
            new(kind, reason, made.Step, requirement, toolClass, record, RandomGenealogy.At(made.From), to, null, null, bound)
            {
                Revision = reason == GapReason.StepNotRecorded ? unit.Status.Revision : null,
            };
    }

    private UnitJudgement WithTool(UnitJudgement unit, Made made, StationCode? station, ImmutableArray<StationCode> bound)
    {
        var (from, to) = (RandomGenealogy.At(made.From), RandomGenealogy.At(made.To));
        if (Chance(3))
        {
            return unit;
        }

        if (Hole(4))
        {
            return unit with { WorkGaps = unit.WorkGaps.Add(NotRecorded(WorkGapKind.Tool, made, station, bound, Code.Parse("DRV")) with { ToolClass = Chance(4) ? Code.Parse("PRESS") : ToolClass }) };
        }

        return unit with
        {
            ToolUsages = unit.ToolUsages.Add(new(
                made.Step, 1, Id(), Chance(3) ? OtherTool : ToolNumber, Hole(4) ? null : Settings[Pick(3)], Code.Parse("DRV"), to, from, to, station)),
        };
    }

    private UnitJudgement WithValue(UnitJudgement unit, Made made, StationCode? station, ImmutableArray<StationCode> bound)
    {
        if (Chance(3))
        {
            return unit;
        }

        if (Hole(4))
        {
            return unit with { WorkGaps = unit.WorkGaps.Add(NotRecorded(WorkGapKind.Characteristic, made, station, bound, Torque)) };
        }

        var value = Pick(6) switch
        {
            0 => new EnteredQuantity(1.0m, "N.m"),
            1 => new(1.1m, "N.m"),
            2 => new(1.2m, "N.m"),
            3 => new(110m, "cN.m"),
            4 => new(0.00111m, "kN.m"),
            _ => (EnteredQuantity?)null,
        };
        bool? passed = Pick(3) switch { 0 => true, 1 => false, _ => null };
        var isOther = value is not null && Hole(8);
        return unit with
        {
            Measurements = unit.Measurements.Add(new(
                made.Step,
                1,
                Id(),
                Torque,
                isOther ? new(1.0m, "mm") : value,
                value is not null && !isOther && Hole(3) ? value.Value.Value * 0.04m : null,
                value is null ? passed ?? true : passed,
                RandomGenealogy.At(made.From),
                RandomGenealogy.At(made.To),
                station)),
        };
    }

    private UnitJudgement WithInterval(UnitJudgement unit, Made made, StationCode? station, ImmutableArray<StationCode> bound)
    {
        if (Chance(3))
        {
            return unit;
        }

        var least = TimeSpan.FromMinutes(5 + Pick(4));
        var most = least;
        var (isLeast, isMost) = (true, true);
        if (Hole(3))
        {
            // A known spread, or an end or a start that nobody recorded.
            switch (Pick(3))
            {
                case 0 when made.To is > 0 and < RandomGenealogy.Now - 1:
                    most = least + TimeSpan.FromMinutes(2);
                    break;
                case 1:
                    isLeast = false;
                    break;
                default:
                    (isLeast, isMost) = (false, false);
                    break;
            }
        }

        unit = unit with
        {
            IntervalResults = unit.IntervalResults.Add(new(
                Cure, Steps[0], made.Step, isMost ? Id() : null, Id(), isLeast ? least : null, isMost ? most : null, IntervalVerdict.Undetermined, RandomGenealogy.At(made.To), station)),
        };
        return isLeast && isMost ? unit : unit with { WorkGaps = unit.WorkGaps.Add(NotRecorded(WorkGapKind.Interval, made, station, bound, Cure)) };
    }

    private WorkGap NotRecorded(WorkGapKind kind, Made made, StationCode? station, ImmutableArray<StationCode> bound, Code requirement) => new(
        kind, GapReason.NotRecorded, made.Step, requirement, null, Id(), RandomGenealogy.At(made.From), RandomGenealogy.At(made.To), station, made.Person, bound);

    private Suspect MakeSuspect(int depth)
    {
        switch (depth > 0 ? Pick(6) : 0)
        {
            case 3:
                return new SuspectAll([MakeSuspect(depth - 1), MakeSuspect(depth - 1)]);
            case 4:
                return new SuspectAny([MakeSuspect(depth - 1), MakeSuspect(depth - 1)]);
            case 5:
                return new SuspectExcept(MakeSuspect(depth - 1), MakeSuspect(depth - 1));
            default:
                var single = MakeSingle();
                return single is SuspectComponent || Chance(2) ? single : single with { Filter = MakeFilter() };
        }
    }

    private SingleSuspect MakeSingle()
    {
        var item = Records[Pick(Records.Length)].Unit.Item;
        return Pick(7) switch
        {
            0 => History.Factor,
            1 => new SuspectComponent(Records[Pick(Records.Length)].Unit),
            2 => new SuspectTool(ToolNumber, Chance(2) ? Settings[Pick(3)] : null, Chance(3) ? ToolTimes.All : ToolTimes.SinceLastGood),
            3 => new SuspectWork(item, Chance(2) ? VariantCode.Parse("V1") : null, Chance(2) ? Revisions[Pick(2)] : null, Chance(2) ? People[Pick(2)] : null),
            4 => new SuspectWork(null, null, Chance(3) ? Revisions[Pick(2)] : null, People[Pick(2)]),
            5 => Pick(3) switch
            {
                0 => new SuspectMeasured(Chance(2) ? item : null, Torque, MeasuredCondition.NotPassed, null),
                1 => new SuspectMeasured(Chance(2) ? item : null, Torque, MeasuredCondition.Below, Chance(2) ? new(1.1m, "N.m") : new(110m, "cN.m")),
                _ => new SuspectMeasured(Chance(2) ? item : null, Torque, MeasuredCondition.Above, new(1.1m, "N.m")),
            },
            _ => Chance(2)
                ? new SuspectInterval(Chance(2) ? item : null, Cure, TimeSpan.FromMinutes(5 + Pick(5)), null)
                : new SuspectInterval(Chance(2) ? item : null, Cure, null, TimeSpan.FromMinutes(5 + Pick(5))),
        };
    }

    private UseFilter MakeFilter()
    {
        // After the first minute: what may have been at any time may then have been before, too.
        DateTimeOffset? from = Chance(2) ? RandomGenealogy.At(1 + Pick(7)) : null;
        DateTimeOffset? to = Chance(2) ? (from ?? RandomGenealogy.Start).AddMinutes(1 + Pick(6)) : null;
        return new(from, to, Chance(3) ? Steps[Pick(2)] : null, Chance(3) ? Stations[Pick(2)] : null);
    }

    private Guid Id() => new(++_ids, 0, 0, [0, 0, 0, 0, 0, 0, 0, 0]);

    private int Pick(int below) => below <= 1 ? 0 : Math.Abs(_next < _choices.Count ? _choices[_next++] % below : 0);

    private bool Chance(int oneIn) => Pick(oneIn) == 1;

    private bool Hole(int oneIn)
    {
        var isHole = Chance(oneIn) && _holes > 0;
        _holes -= isHole ? 1 : 0;
        return isHole;
    }

    private sealed record Made(StepCode Step, int From, int To, StationCode Station, PersonCode Person);
}
