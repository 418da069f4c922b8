using System.Collections.Immutable;
using CsCheck;
using Traceability.Domain.Facts;
using Traceability.Domain.Judging;
using Traceability.Domain.Nonconformances;
using Traceability.Domain.Primitives;
using Traceability.Domain.ProductUnits;
using Traceability.Domain.Routings;

namespace Traceability.Testing.Building;

/// <summary>Random histories of one sealed hand lamp, under a routing that has every kind of rule.</summary>
/// <remarks>Times come from few minutes, so that ties, limits met exactly and steps out of order are common.</remarks>
public static class Histories
{
    private const int MinutesMax = 30;

    private static readonly string[] Steps = ["WIRE", "GLUE", "BOND", "MARRY", "SCREW", "CLOSE", "TEST"];
    private static readonly UnitKey[] Heads = [Some.Unit("HEAD", "H1"), Some.Unit("HEAD", "H2"), Some.Unit("HEAD", "H9"), Some.Unit("LENS", "1")];

    /// <summary>The unit.</summary>
    public static UnitKey Lamp { get; } = Some.Unit("LAMP", "1");

    /// <summary>Master data, lots, tools, people and components: the same for all histories.</summary>
    public static References References { get; } = World().References;

    /// <summary>The facts that they are made of, by stream.</summary>
    public static IReadOnlyDictionary<string, ImmutableArray<RecordedFact>> Streams { get; } = World().Streams;

    /// <summary>A fact that a terminal could send.</summary>
    public static Gen<Fact> Fact { get; } = Gen.OneOf(Completion.Select(f => (Fact)f), Completion.Select(f => (Fact)f), Completion.Select(f => (Fact)f), Other);

    /// <summary>A unit's facts, corrections and voids among them; ids are distinct.</summary>
    public static Gen<ImmutableArray<RecordedFact>> Facts { get; } =
        from facts in Fact.Array[0, 14]
        from corrections in Gen.Select(Gen.Int[1, 20], Completion, Minute).Array[0, 2]
        from voids in Gen.Select(Gen.Int[1, 20], Minute).Array[0, 3]
        select Number([
            Opening,
            .. facts,
            .. corrections.Select(c => (Fact)new RecordCorrected(Some.Id(c.Item1), c.Item2, "misread", Some.Quality) { OccurredAt = c.Item3 }),
            .. voids.Select(v => (Fact)new RecordVoided(Some.Id(v.Item1), "wrong unit", Some.Quality) { OccurredAt = v.Item2 }),
        ]);

    /// <summary>Anything that types allow: times at the ends of the calendar, arrays left out, units that don't exist, circles of voids.</summary>
    public static Gen<ImmutableArray<RecordedFact>> Garbage { get; } =
        from facts in Gen.OneOf(Fact, GarbageFact).Array[0, 20]
        from clocks in GarbageClock.Array[facts.Length]
        select Number([.. facts.Select((f, i) => f with { Clock = clocks[i] })]);

    private static UnitOpened Opening => new(Lamp, VariantCode.Parse("P"), [], null) { OccurredAt = Some.At(-60), Station = Some.Station };

    private static Gen<DateTimeOffset> Minute => Gen.Int[0, MinutesMax].Select(m => Some.At(m));

    private static Gen<ClockReading> Clock => Gen.OneOf(
        Gen.Const(Some.RightClock),
        from offset in Gen.Int[-2, 2]
        from uncertainty in Gen.Int[0, 60]
        select new ClockReading(TimeSpan.FromMinutes(offset), TimeSpan.FromSeconds(uncertainty), offset is < -1 or > 1));

    private static Gen<string> StepName => Gen.Int[0, Steps.Length - 1].Select(i => Steps[i]);

    private static Gen<ImmutableArray<MaterialUse>> Materials => (
        from item in Gen.OneOf(Gen.Const("ADH-1"), Gen.Const("ADH-1"), Gen.Const("ADH-2"), Gen.Const("GR-1"))
        from lots in Gen.OneOf(Gen.Const("L1"), Gen.Const("L2"), Gen.Const("OLD"), Gen.Const("L9")).Array[0, 2]
        from container in Gen.OneOf(Gen.Const((string?)null), Gen.Const((string?)"T1"), Gen.Const((string?)"T2"))
        from grams in Gen.Int[0, 10]
        select new MaterialUse(
            ItemNumber.Parse(item),
            [.. lots.Select(LotNumber.Parse)],
            container is null ? null : ContainerNumber.Parse(container),
            grams == 0 ? null : new EnteredQuantity(grams / 10m, "g"),
            null)).Array[0, 2].Select(a => a.ToImmutableArray());

    private static Gen<StepCompleted> Completion =>
        from step in StepName
        from at in Minute
        from started in Gen.Int[-1, 5]
        from clock in Clock
        from isRework in Gen.Bool
        from materials in Materials
        from value in Gen.Int[0, 12]
        from good in Gen.Int[0, 3]
        from fitted in Gen.Int[0, 6]
        from setting in Gen.OneOf(Gen.Const("2"), Gen.Const("5"))
        select new StepCompleted(
            Lamp,
            StepCode.Parse(step),
            started < 0 ? null : at.AddMinutes(-started),
            isRework,
            started < 1 ? [] : [new(Some.Code("CLAMPED"), at.AddMinutes(-1))],
            materials,
            step == "SCREW" ? [new(ToolNumber.Parse("SD-1"), Some.Code(setting), null)] : [],
            value == 0 ? [] : [new(Some.Code("DEPTH"), value, "mm")],
            [new(Some.Code("OK"), good > 0)],
            step == "MARRY" && fitted < Heads.Length ? [new(Some.Code("HEAD"), Heads[fitted])] : [],
            good == 1 && isRework ? [new(Some.Code("CHIP"), 2, null)] : [],
            null)
        {
            OccurredAt = at,
            Clock = clock,
            Station = Some.Station,
            Person = Some.Person,
        };

    private static Gen<Fact> Other =>
        from kind in Gen.Int[0, 17]
        from step in StepName
        from at in Minute
        from head in Gen.Int[0, Heads.Length - 1]
        from clock in Clock
        from decision in Decision
        select (kind switch
        {
            0 or 1 => (Fact)new StepStarted(Lamp, StepCode.Parse(step)) { OccurredAt = at },
            2 => new ComponentInstalled(Lamp, Some.Code("HEAD"), Heads[head], Some.Step("MARRY")) { OccurredAt = at },
            3 => new ComponentRemoved(Lamp, Some.Code("HEAD"), Heads[head], null) { OccurredAt = at },
            4 => new UnitMovedToRevision(Lamp, RevisionCode.Parse("B"), [StepCode.Parse(step), Some.Step("WIRE")], "new", Some.Quality) { OccurredAt = at },
            5 => new UnitHeld(Lamp, "doubt") { OccurredAt = at },
            6 => new UnitHoldLifted(Lamp, "clear") { OccurredAt = at },
            7 => new UnitReleased(Lamp) { OccurredAt = at },
            8 => new UnitShipped(Lamp, "Fell End Supplies", null) { OccurredAt = at },
            9 => new UnitReturned(Lamp, "dim") { OccurredAt = at },
            10 => new UnitScrapped(Lamp, "cracked") { OccurredAt = at },
            12 => new NonconformanceReported(Lamp, StepCode.Parse(step), Some.Code("CHIP"), "seen", []) { OccurredAt = at },
            > 12 => decision with { OccurredAt = at },
            _ => new UnreadableFact("step_completed", "unknown member") { OccurredAt = at },
        }) with { Clock = clock };

    private static Gen<Fact> Decision =>
        from record in Gen.Int[2, 15]
        from about in Gen.Int[0, 2]
        from disposition in Gen.Int[-2, 4]
        from step in StepName
        from count in Gen.Int[1, 3]
        from until in Minute
        let id = about switch
        {
            0 => NonconformanceId.OfReport(Some.Id(record)),
            1 => NonconformanceId.OfFinding(Some.Id(record), "check-failed", "OK"),
            _ => NonconformanceId.OfFinding(Some.Id(record), "value-out-of-limits", "DEPTH"),
        }
        select disposition < 0
            ? (Fact)new NonconformanceTakenUp(Lamp, id, null) { OccurredAt = default, Person = Some.Quality }
            : new NonconformanceDisposed(Lamp, id, (Disposition)disposition, [StepCode.Parse(step)], new(Some.Code("C-1"), until, count), "as discussed", [])
            {
                OccurredAt = default,
                Person = Some.Quality,
            };

    private static Gen<DateTimeOffset> GarbageTime => Gen.OneOf(
        Gen.Const(DateTimeOffset.MinValue), Gen.Const(DateTimeOffset.MaxValue), Gen.Const(default(DateTimeOffset)), Minute);

    private static Gen<TimeSpan> GarbageSpan => Gen.OneOf(
        Gen.Const(TimeSpan.MinValue), Gen.Const(TimeSpan.MaxValue), Gen.Const(TimeSpan.Zero), Gen.Int[-60, 60].Select(s => TimeSpan.FromSeconds(s)));

    private static Gen<ClockReading> GarbageClock =>
        from offset in GarbageSpan
        from uncertainty in GarbageSpan
        from doubtful in Gen.Bool
        select new ClockReading(offset, uncertainty, doubtful);

    private static Gen<Fact> GarbageFact =>
        from kind in Gen.Int[0, 10]
        from at in GarbageTime
        from other in GarbageTime
        from record in Gen.Int[0, 25]
        from step in StepName
        from value in Gen.OneOf(Gen.Const(decimal.MaxValue), Gen.Const(decimal.MinValue), Gen.Const(0m))
        from unit in Gen.OneOf(Gen.Const((string)null!), Gen.Const("smoot"), Gen.Const("mm"), Gen.Const("[pi]"))
        select kind switch
        {
            0 => (Fact)new StepCompleted(Lamp, StepCode.Parse(step), other, false, default, default, default, default, default, default, default, null) { OccurredAt = at },
            1 => new StepCompleted(
                Lamp,
                StepCode.Parse(step),
                null,
                true,
                [new(Some.Code("CLAMPED"), other)],
                [new(default, default, null, null, null), new(Some.Item("ADH-1"), [default], null, new(value, unit), Some.Code("GLUE"))],
                [new(default, null, null)],
                [new(Some.Code("DEPTH"), value, unit), new(default, value, unit)],
                [new(default, false)],
                [new(default, default)],
                [new(default, int.MaxValue, null), new(Some.Code("CHIP"), int.MinValue, null), new(default, int.MaxValue, null)],
                null) { OccurredAt = at },
            2 => new UnreadableFact(null!, null!) { OccurredAt = at },
            3 => new RecordVoided(Some.Id(record), null!, default) { OccurredAt = at },
            4 => new RecordCorrected(Some.Id(record), new RecordVoided(Some.Id(record), null!, default) { OccurredAt = other }, null!, default) { OccurredAt = at },
            5 => new UnitOpened(Lamp, null, default, default(LotNumber)) { OccurredAt = at },
            6 => new UnitMovedToRevision(Lamp, default, default, null!, default) { OccurredAt = at },
            7 => new NonconformanceReported(Lamp, null, default, null!, default) { OccurredAt = at },
            8 => new NonconformanceTakenUp(Lamp, NonconformanceId.Parse("X"), null) { OccurredAt = at },
            9 => new NonconformanceDisposed(Lamp, NonconformanceId.OfReport(Some.Id(record)), (Disposition)record, record > 9 ? default : [StepCode.Parse(step), StepCode.Parse(step)], new(Some.Code("C-1"), other, -1), null!, default) { OccurredAt = at },
            _ => new ComponentRemoved(Lamp, default, default, null) { OccurredAt = at },
        };

    private static ImmutableArray<RecordedFact> Number(ImmutableArray<Fact> facts) =>
        [.. facts.Select((f, i) => new RecordedFact(Some.Id(i + 1), f, Some.At(i)))];

    private static UnitStory World() => new UnitStory(Lamp)
        .Routing(Routing("A").For(Effectivity.Always with { SerialTo = SerialNumber.Parse("5") }), Routing("B").For(Effectivity.Always with { SerialFrom = SerialNumber.Parse("6") }))
        .Item("ADH-1", life: TimeSpan.FromMinutes(20))
        .Lot("ADH-1", "L1").Lot("ADH-1", "L2").Lot("ADH-1", "OLD", Some.At(10)).Lot("GR-1", "L1")
        .Opened("ADH-1", "L1", "T1", 0).Opened("ADH-1", "L2", "T2", 12)
        .Tool("SD-1", "SCREWDRIVER", needsCalibration: true)
        .Calibrated("SD-1", -100, validUntil: 20).Calibrated("SD-1", 25, foundGood: false)
        .Verified("SD-1", "5", new(1.2m, "N.m"))
        .Qualified("P-1", "BONDING", at: 3)
        .Component(Heads[0], 5).Component(Heads[1], -100).Component(Heads[3])
        .Inside(Heads[1], Some.Unit("LAMP", "2"), 8, 15);

    private static RoutingBuilder Routing(string revision) => new RoutingBuilder("LAMP", revision)
        .Step("WIRE", s => s.Check("OK").Measure("DEPTH", "mm", 2, 10, guardBand: 1))
        .Step("GLUE", s => s.After("WIRE").Needs("BONDING").Material("GLUE", "ADH-1", Tracing.Container, max: new(0.5m, "g")))
        .Step("BOND", s => s.After("GLUE").Material("GLUE", "ADH-1", revision == "A" ? Tracing.Lot : Tracing.Container))
        .Step("MARRY", s => s.Component("HEAD", "HEAD", mustBeReleased: true))
        .Step("SCREW", s => s.After("MARRY").Tool("DRIVER", "SCREWDRIVER", "5", new(1.1m, "N.m"), new(1.3m, "N.m")))
        .Step("CLOSE", s => s.PointOfNoReturn("WIRE", "BOND").After("SCREW"))
        .Step("TEST", s => s.After("CLOSE").Check("OK").Measure("DEPTH", "mm", null, new Limit(1, [new(0.5m, null, Some.Step("WIRE"), Some.Code("DEPTH"))])))
        .Interval("CURE", "GLUE.completed", "BOND.started", 5, 10)
        .Interval("SET", "BOND.mark:CLAMPED", "CLOSE.completed", 3)
        .Interval("POT", "GLUE.opened:GLUE", "GLUE.completed", maxMinutes: 15)
        .Interval("RUN", "CLOSE.started", "TEST.completed", 2);
}
