using System.Globalization;
using System.Text.Json;
using Traceability.Contracts;
using Traceability.Contracts.Scope;
using Traceability.Domain.Primitives;
using Traceability.Domain.Scope;
using Traceability.Service.Http.Reading;
using Traceability.Service.Storage;

namespace Traceability.Service.Features.Scope;

/// <summary>A suspect as JSON: read with every fault and its place, and written in one form.</summary>
internal static class SuspectJson
{
    /// <summary>The most levels.</summary>
    public const int DepthMax = 8;

    /// <summary>The most nodes.</summary>
    public const int NodesMax = 50;

    private static readonly Shape QuestionShape = new("suspect");
    private static readonly Shape KindShape = new("kind");
    private static readonly Shape CombinationShape = new("kind", "of");
    private static readonly Shape ExceptShape = new("kind", "of", "but");
    private static readonly Shape ComponentShape = new("kind", "item", "serial");
    private static readonly Shape LotShape = Narrowed("kind", "item", "lot");
    private static readonly Shape ContainerShape = Narrowed("kind", "item", "lot", "container");
    private static readonly Shape SupplierLotShape = Narrowed("kind", "supplierLot", "supplier");
    private static readonly Shape ToolShape = Narrowed("kind", "tool", "setting", "window");
    private static readonly Shape WorkShape = Narrowed("kind", "item", "variant", "revision", "person");
    private static readonly Shape MeasuredShape = Narrowed("kind", "item", "characteristic", "below", "above", "passed");
    private static readonly Shape IntervalShape = Narrowed("kind", "item", "rule", "shorterThan", "longerThan");

    private static readonly string[] Kinds =
        ["lot", "container", "supplier-lot", "component", "tool", "work", "measured", "interval", "and", "or", "except"];

    /// <summary>The question in a body: {"suspect": …}; or the refusal with every fault.</summary>
    public static (Suspect? Suspect, Refusal? Refusal) ReadQuestion(ReadOnlyMemory<byte> body) => QuestionReading.Read(body, static (reading, element) =>
    {
        using var o = reading.Open(element, QuestionShape);
        return o.Object<Suspect>("suspect", Read)!;
    });

    /// <summary>Reads a suspect; of no use once the reading has faults.</summary>
    public static Suspect Read(JsonReading reading, JsonElement element)
    {
        var nodes = 0;
        return Read(reading, element, 1, ref nodes);
    }

    /// <summary>Reads what <see cref="Write"/> wrote.</summary>
    /// <exception cref="FormatException">It is something else.</exception>
    public static Suspect Parse(string json)
    {
        using var document = JsonDocument.Parse(json, new() { MaxDepth = WireLimits.DepthMax });
        var reading = new JsonReading();
        var suspect = Read(reading, document.RootElement);
        return !reading.HasFaults ? suspect
            : throw new FormatException($"The suspect can't be read: {reading.Faults[0].Pointer} {reading.Faults[0].Detail}");
    }

    /// <summary>The suspect as JSON; the same suspect always as the same text.</summary>
    public static string Write(Suspect suspect) => JsonSerializer.Serialize(View(suspect), WireJson.Options);

    /// <summary>The suspect as the contract has it.</summary>
    public static SuspectNode View(Suspect suspect) => suspect switch
    {
        SuspectAll all => new AndSuspect { Of = [.. all.Of.Select(View)] },
        SuspectAny any => new OrSuspect { Of = [.. any.Of.Select(View)] },
        SuspectExcept except => new ExceptSuspect { Of = View(except.Of), But = View(except.But) },
        SuspectComponent c => new ComponentSuspect { Item = c.Unit.Item.Value, Serial = c.Unit.Serial.Value },
        SingleSuspect single => View(single) with
        {
            From = single.Filter.From,
            To = single.Filter.To,
            Step = single.Filter.Step?.Value,
            Station = single.Filter.Station?.Value,
        },
        _ => throw new System.Diagnostics.UnreachableException(),
    };

    private static NarrowedSuspect View(SingleSuspect suspect) => suspect switch
    {
        SuspectLot l => new LotSuspect { Item = l.Lot.Item.Value, Lot = l.Lot.Lot.Value },
        SuspectContainer c => new ContainerSuspect { Item = c.Lot.Item.Value, Lot = c.Lot.Lot.Value, Container = c.Container.Value },
        SuspectSupplierLot s => new SupplierLotSuspect { SupplierLot = s.SupplierLot, Supplier = s.Supplier },
        SuspectTool t => new ToolSuspect { Tool = t.Tool.Value, Setting = t.Setting?.Value, Window = EnumNames<ToolTimes>.Of(t.Times) },
        SuspectWork w => new WorkSuspect { Item = w.Item?.Value, Variant = w.Variant?.Value, Revision = w.Revision?.Value, Person = w.Person?.Value },
        SuspectMeasured m => new MeasuredSuspect
        {
            Item = m.Item?.Value,
            Characteristic = m.Characteristic.Value,
            Below = m.Condition == MeasuredCondition.Below ? View(m.Bound) : null,
            Above = m.Condition == MeasuredCondition.Above ? View(m.Bound) : null,
            Passed = m.Condition == MeasuredCondition.NotPassed ? false : null,
        },
        SuspectInterval i => new IntervalSuspect { Item = i.Item?.Value, Rule = i.Rule.Value, ShorterThan = i.ShorterThan, LongerThan = i.LongerThan },
        _ => throw new System.Diagnostics.UnreachableException(),
    };

    private static Contracts.Facts.QuantityValue? View(EnteredQuantity? bound) =>
        bound is { } b ? new() { Value = b.Value, Unit = b.Unit } : null;

    private static Shape Narrowed(params string[] names) => new([.. names, "from", "to", "step", "station"]);

    private static Suspect Read(JsonReading reading, JsonElement element, int depth, ref int nodes)
    {
        // Told once, where it happens; what is below or behind isn't read.
        if (++nodes > NodesMax || depth > DepthMax)
        {
            if (nodes == NodesMax + 1 || depth > DepthMax)
            {
                reading.Fail(null, string.Create(CultureInfo.InvariantCulture, $"A question has at most {NodesMax} nodes and {DepthMax} levels. Ask in parts."));
            }

            return None;
        }

        var kind = Kind(reading, element);
        return kind is "and" or "or" or "except" ? ReadCombination(reading, element, kind, depth, ref nodes) : ReadSingle(reading, element, kind);
    }

    private static Suspect ReadCombination(JsonReading reading, JsonElement element, string kind, int depth, ref int nodes)
    {
        if (kind == "except")
        {
            using var except = reading.Open(element, ExceptShape);
            return new SuspectExcept(Member(except, "of", depth, ref nodes), Member(except, "but", depth, ref nodes));
        }

        using var o = reading.Open(element, CombinationShape);
        var parts = Several(o, depth, ref nodes);
        return kind == "and" ? new SuspectAll(parts) : new SuspectAny(parts);
    }

    private static Suspect ReadSingle(JsonReading reading, JsonElement element, string? kind)
    {
        switch (kind)
        {
            case "lot":
            {
                using var o = reading.Open(element, LotShape);
                return new SuspectLot(new(o.Code<ItemNumber>("item"), o.Code<LotNumber>("lot"))) { Filter = Filter(o) };
            }

            case "container":
            {
                using var o = reading.Open(element, ContainerShape);
                return new SuspectContainer(new(o.Code<ItemNumber>("item"), o.Code<LotNumber>("lot")), o.Code<ContainerNumber>("container")) { Filter = Filter(o) };
            }

            case "supplier-lot":
            {
                using var o = reading.Open(element, SupplierLotShape);
                return new SuspectSupplierLot(o.Text("supplierLot"), o.Has("supplier") ? o.Text("supplier") : null) { Filter = Filter(o) };
            }

            case "component":
            {
                using var o = reading.Open(element, ComponentShape);
                return new SuspectComponent(new(o.Code<ItemNumber>("item"), o.Code<SerialNumber>("serial")));
            }

            case "tool":
            {
                using var o = reading.Open(element, ToolShape);
                return new SuspectTool(o.Code<ToolNumber>("tool"), o.CodeOrNull<Code>("setting"), o.OneOf("window", ToolTimes.SinceLastGood)) { Filter = Filter(o) };
            }

            case "work":
                return ReadWork(reading, element);
            case "measured":
                return ReadMeasured(reading, element);
            case "interval":
                return ReadInterval(reading, element);
            default:
                return None;
        }
    }

    // Stands for what could not be read; there is a fault beside it.
    private static SuspectSupplierLot None => new(string.Empty, null);

    private static string? Kind(JsonReading reading, JsonElement element)
    {
        using var o = reading.Open(element, KindShape, isOpenEnded: true);
        if (element.ValueKind != JsonValueKind.Object)
        {
            return null;
        }

        var before = reading.FaultCount;
        var kind = o.Text("kind");
        if (reading.FaultCount == before && Array.IndexOf(Kinds, kind) < 0)
        {
            o.Fail("kind", $"One of {string.Join(", ", Kinds)} is expected.");
        }

        return reading.FaultCount == before ? kind : null;
    }

    private static SuspectWork ReadWork(JsonReading reading, JsonElement element)
    {
        using var o = reading.Open(element, WorkShape);
        var before = reading.FaultCount;
        var work = new SuspectWork(
            o.CodeOrNull<ItemNumber>("item"), o.CodeOrNull<VariantCode>("variant"), o.CodeOrNull<RevisionCode>("revision"), o.CodeOrNull<PersonCode>("person"))
        {
            Filter = Filter(o),
        };
        if (reading.FaultCount == before && work == new SuspectWork(null, null, null, null))
        {
            reading.Fail(null, "Say which work: at least one of item, variant, revision, step, station, person, from and to.");
        }

        return work;
    }

    private static SuspectMeasured ReadMeasured(JsonReading reading, JsonElement element)
    {
        using var o = reading.Open(element, MeasuredShape);
        var item = o.CodeOrNull<ItemNumber>("item");
        var characteristic = o.Code<Code>("characteristic");
        if ((o.Has("below") ? 1 : 0) + (o.Has("above") ? 1 : 0) + (o.Has("passed") ? 1 : 0) != 1)
        {
            reading.Fail(null, "Say which values: one of below, above, and passed: false.");
        }

        var before = reading.FaultCount;
        var below = o.ValueOrNull<EnteredQuantity>("below", Parts.Quantity);
        var above = o.ValueOrNull<EnteredQuantity>("above", Parts.Quantity);
        if (o.Flag("passed", absent: false) && reading.FaultCount == before)
        {
            o.Fail("passed", "Only false can be asked for: values that were judged not to pass.");
        }

        var condition = below is not null ? MeasuredCondition.Below : above is not null ? MeasuredCondition.Above : MeasuredCondition.NotPassed;
        return new(item, characteristic, condition, below ?? above) { Filter = Filter(o) };
    }

    private static SuspectInterval ReadInterval(JsonReading reading, JsonElement element)
    {
        using var o = reading.Open(element, IntervalShape);
        if (o.Has("shorterThan") == o.Has("longerThan"))
        {
            reading.Fail(null, "Say how long: one of shorterThan and longerThan.");
        }

        return new(o.CodeOrNull<ItemNumber>("item"), o.Code<Code>("rule"), o.DurationOrNull("shorterThan"), o.DurationOrNull("longerThan")) { Filter = Filter(o) };
    }

    private static UseFilter Filter(ObjectReading o)
    {
        var filter = new UseFilter(
            o.TimeOrNull("from")?.ToUniversalTime(), o.TimeOrNull("to")?.ToUniversalTime(), o.CodeOrNull<StepCode>("step"), o.CodeOrNull<StationCode>("station"));
        if (filter.From >= filter.To)
        {
            o.Fail("to", "The end is not after the beginning.");
        }

        return filter.IsNone ? UseFilter.None : filter;
    }

    private static ImmutableArray<Suspect> Several(ObjectReading o, int depth, ref int nodes)
    {
        var read = nodes;
        var before = o.Reading.FaultCount;
        var parts = o.List("of", (reading, entry) => Read(reading, entry, depth + 1, ref read));
        nodes = read;
        if (parts.Length < 2 && o.Reading.FaultCount == before)
        {
            o.Fail("of", "An array of two or more suspects is expected.");
        }

        return parts;
    }

    private static Suspect Member(ObjectReading o, string name, int depth, ref int nodes)
    {
        var read = nodes;
        var member = o.Object<Suspect>(name, (reading, inner) => Read(reading, inner, depth + 1, ref read));
        nodes = read;
        return member ?? None;
    }
}
