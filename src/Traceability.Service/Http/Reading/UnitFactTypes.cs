using System.Text.Json;
using Traceability.Domain.Primitives;
using Traceability.Domain.ProductUnits;

namespace Traceability.Service.Http.Reading;

/// <summary>Reads the facts about one unit.</summary>
internal static class UnitFactTypes
{
    private static readonly Shape MarkShape = new("name", "at");
    private static readonly Shape MaterialShape = new("item", "lots", "container", "quantity", "requirement");
    private static readonly Shape ToolShape = new("tool", "setting", "requirement");
    private static readonly Shape MeasurementShape = new("characteristic", "value", "unit", "standardUncertainty");
    private static readonly Shape CheckShape = new("characteristic", "passed");
    private static readonly Shape ComponentShape = new("position", "component");
    private static readonly Shape DefectShape = new("defect", "count", "note");

    public static ImmutableArray<FactType> All { get; } =
    [
        FactType.Of("unit-opened", Opened, "unit", "variant", "options", "lot", "batch"),
        FactType.Of("step-started", Started, "unit", "step", "supervisor"),
        FactType.Of(
            "step-completed", Completed, "unit", "step", "startedAt", "isRework", "marks", "materials", "tools", "measurements", "checks", "components", "defects", "note", "supervisor"),
        FactType.Of("component-installed", Installed, "unit", "position", "component", "step"),
        FactType.Of("component-removed", Removed, "unit", "position", "component", "reason"),
        FactType.Of("unit-moved-to-revision", Moved, "unit", "revision", "carriesOver", "reason", "authorisedBy", "decidedAtVersion"),
        FactType.Of("unit-held", (o, c) => new UnitHeld(UnitOf(o), o.Text("reason")) { OccurredAt = c.At, Station = c.Station, Person = c.Person, Hold = o.CodeOrNull<Code>("hold") }, "unit", "reason", "hold"),
        FactType.Of("unit-hold-lifted", (o, c) => new UnitHoldLifted(UnitOf(o), o.Text("reason")) { OccurredAt = c.At, Station = c.Station, Person = c.Person, Hold = o.CodeOrNull<Code>("hold") }, "unit", "reason", "hold"),
        FactType.Of("unit-released", (o, c) => new UnitReleased(UnitOf(o)) { OccurredAt = c.At, Station = c.Station, Person = c.Person }, "unit"),
        FactType.Of("unit-scrapped", (o, c) => new UnitScrapped(UnitOf(o), o.Text("reason")) { OccurredAt = c.At, Station = c.Station, Person = c.Person }, "unit", "reason"),
        FactType.Of("unit-shipped", Shipped, "unit", "consignee", "orderReference"),
        FactType.Of("unit-returned", (o, c) => new UnitReturned(UnitOf(o), o.Text("reason")) { OccurredAt = c.At, Station = c.Station, Person = c.Person }, "unit", "reason"),
    ];

    private static UnitKey UnitOf(ObjectReading o) => o.Value("unit", Parts.Unit);

    private static UnitOpened Opened(ObjectReading o, CommonMembers c) =>
        new(UnitOf(o), o.CodeOrNull<VariantCode>("variant"), o.Codes<Code>("options"), o.CodeOrNull<LotNumber>("lot"))
        {
            OccurredAt = c.At, Station = c.Station, Person = c.Person, Batch = o.CodeOrNull<BatchNumber>("batch"),
        };

    private static StepStarted Started(ObjectReading o, CommonMembers c)
    {
        var fact = new StepStarted(UnitOf(o), o.Code<StepCode>("step"))
        {
            OccurredAt = c.At, Station = c.Station, Person = c.Person, Supervisor = o.CodeOrNull<PersonCode>("supervisor"),
        };
        CheckSupervisor(o, fact.Supervisor, fact.Person);
        return fact;
    }

    private static void CheckSupervisor(ObjectReading o, PersonCode? supervisor, PersonCode? person)
    {
        if (supervisor is { } watching && watching != default && watching == person)
        {
            o.Fail("supervisor", "Nobody watches over himself. Name another person, or leave it out.");
        }
    }

    private static StepCompleted Completed(ObjectReading o, CommonMembers c)
    {
        var fact = new StepCompleted(
            UnitOf(o),
            o.Code<StepCode>("step"),
            o.TimeOrNull("startedAt"),
            o.Flag("isRework", absent: false),
            o.List("marks", Mark),
            o.List("materials", Material),
            o.List("tools", Tool),
            o.List("measurements", Measured),
            o.List("checks", Checked),
            o.List("components", Component),
            o.List("defects", Defect),
            o.TextOrNull("note"))
        {
            OccurredAt = c.At, Station = c.Station, Person = c.Person, Supervisor = o.CodeOrNull<PersonCode>("supervisor"),
        };
        CheckSupervisor(o, fact.Supervisor, fact.Person);
        CheckRecord(o, fact);
        return fact;
    }

    private static ComponentInstalled Installed(ObjectReading o, CommonMembers c)
    {
        var fact = new ComponentInstalled(UnitOf(o), o.Code<Code>("position"), o.Value("component", Parts.Unit), o.CodeOrNull<StepCode>("step"))
        {
            OccurredAt = c.At, Station = c.Station, Person = c.Person,
        };
        if (fact.Component == fact.Unit && fact.Unit != default)
        {
            o.Fail("component", "A unit can't be put into itself.");
        }

        return fact;
    }

    private static ComponentRemoved Removed(ObjectReading o, CommonMembers c) =>
        new(UnitOf(o), o.Code<Code>("position"), o.Value("component", Parts.Unit), o.TextOrNull("reason"))
        {
            OccurredAt = c.At, Station = c.Station, Person = c.Person,
        };

    private static UnitMovedToRevision Moved(ObjectReading o, CommonMembers c) =>
        new(UnitOf(o), o.Code<RevisionCode>("revision"), o.Codes<StepCode>("carriesOver"), o.Text("reason"), o.Code<PersonCode>("authorisedBy"))
        {
            OccurredAt = c.At, Station = c.Station, Person = c.Person,
            DecidedAtVersion = o.Has("decidedAtVersion") ? o.Count("decidedAtVersion", absent: 1, int.MaxValue) : null,
        };

    private static UnitShipped Shipped(ObjectReading o, CommonMembers c) =>
        new(UnitOf(o), o.Text("consignee"), o.TextOrNull("orderReference"))
        {
            OccurredAt = c.At, Station = c.Station, Person = c.Person,
        };

    /// <summary>Reads one entry.</summary>
    public static StepMark Mark(JsonReading reading, JsonElement element)
    {
        using var o = reading.Open(element, MarkShape);
        return new(o.Code<Code>("name"), o.Time("at"));
    }

    /// <summary>Reads one entry.</summary>
    public static MaterialUse Material(JsonReading reading, JsonElement element)
    {
        using var o = reading.Open(element, MaterialShape);
        return new(
            o.Code<ItemNumber>("item"),
            o.Codes<LotNumber>("lots"),
            o.CodeOrNull<ContainerNumber>("container"),
            o.ValueOrNull("quantity", Parts.Amount),
            o.CodeOrNull<Code>("requirement"));
    }

    /// <summary>Reads one entry.</summary>
    public static ToolUse Tool(JsonReading reading, JsonElement element)
    {
        using var o = reading.Open(element, ToolShape);
        return new(o.Code<ToolNumber>("tool"), o.CodeOrNull<Code>("setting"), o.CodeOrNull<Code>("requirement"));
    }

    /// <summary>Reads one entry.</summary>
    public static Measurement Measured(JsonReading reading, JsonElement element)
    {
        using var o = reading.Open(element, MeasurementShape);
        return new(o.Code<Code>("characteristic"), o.Number("value"), o.UnitOfMeasure("unit")) { StandardUncertainty = Parts.StandardUncertainty(o) };
    }

    /// <summary>Reads one entry.</summary>
    public static CheckResult Checked(JsonReading reading, JsonElement element)
    {
        using var o = reading.Open(element, CheckShape);
        return new(o.Code<Code>("characteristic"), o.Flag("passed"));
    }

    /// <summary>Reads one entry.</summary>
    public static ComponentUse Component(JsonReading reading, JsonElement element)
    {
        using var o = reading.Open(element, ComponentShape);
        return new(o.Code<Code>("position"), o.Value("component", Parts.Unit));
    }

    private static DefectReport Defect(JsonReading reading, JsonElement element)
    {
        using var o = reading.Open(element, DefectShape);
        return new(o.Code<Code>("defect"), o.Count("count", absent: 1, WireLimits.DefectCountMax), o.TextOrNull("note"));
    }

    /// <summary>Tells what of a step's record doesn't go together.</summary>
    public static void CheckRecord(ObjectReading o, StepCompleted fact)
    {
        CheckTimes(o, fact);
        CheckOnce(o, fact);
    }

    private static void CheckTimes(ObjectReading o, StepCompleted fact)
    {
        if (fact.OccurredAt == default)
        {
            return;
        }

        if (fact.StartedAt > fact.OccurredAt)
        {
            o.Fail("startedAt", "A step can't start after it was completed: startedAt is later than occurredAt.");
        }

        for (var i = 0; i < fact.Marks.Length; i++)
        {
            var at = fact.Marks[i].At;
            if (at != default && (at > fact.OccurredAt || at < fact.StartedAt))
            {
                Fail(o, "marks", i, "at", "A mark lies within its step: not before startedAt, not after occurredAt.");
            }
        }
    }

    // Two values of one characteristic in one record: nobody could tell which counts.
    private static void CheckOnce(ObjectReading o, StepCompleted fact)
    {
        var characteristics = new Once<Code>(fact.Measurements.Length + fact.Checks.Length);
        for (var i = 0; i < fact.Measurements.Length; i++)
        {
            Check(characteristics.Add(fact.Measurements[i].Characteristic), "measurements", i, "characteristic");
        }

        for (var i = 0; i < fact.Checks.Length; i++)
        {
            Check(characteristics.Add(fact.Checks[i].Characteristic), "checks", i, "characteristic");
        }

        var marks = new Once<Code>(fact.Marks.Length);
        for (var i = 0; i < fact.Marks.Length; i++)
        {
            Check(marks.Add(fact.Marks[i].Name), "marks", i, "name");
        }

        var positions = new Once<Code>(fact.Components.Length);
        var components = new Once<UnitKey>(fact.Components.Length);
        for (var i = 0; i < fact.Components.Length; i++)
        {
            Check(positions.Add(fact.Components[i].Position), "components", i, "position");
            Check(components.Add(fact.Components[i].Component), "components", i, "component");
            if (fact.Components[i].Component == fact.Unit && fact.Unit != default)
            {
                Fail(o, "components", i, "component", "A unit can't be put into itself.");
            }
        }

        void Check(bool isFirst, string list, int index, string member)
        {
            if (!isFirst)
            {
                Fail(o, list, index, member, "It is given twice in this record. Each is given once; a second value needs an attempt of its own.");
            }
        }
    }

    private static void Fail(ObjectReading o, string list, int index, string member, string detail)
    {
        o.Reading.Enter(list);
        o.Reading.Enter(index);
        o.Reading.Fail(member, detail);
        o.Reading.Leave();
        o.Reading.Leave();
    }
}
