using System.Text.Json;
using Traceability.Domain.Primitives;
using Traceability.Domain.Routings;

namespace Traceability.Service.Http.Reading;

/// <summary>Reads a whole revision of a routing, and checks what can be judged from it alone.</summary>
internal static class RoutingReader
{
    private static readonly Shape RevisionShape = new("item", "revision", "description", "effectivity", "steps", "intervals");
    private static readonly Shape EffectivityShape = new("variants", "options", "serialFrom", "serialTo", "openedFrom", "openedBefore");
    private static readonly Shape StepShape = new(
        "code", "name", "appliesTo", "prerequisites", "isPointOfNoReturn", "hides", "cautions", "stations", "qualification", "allowsSupervised",
        "characteristics", "materials", "components", "tools", "orderPolicy");

    private static readonly Shape PolicyShape = new("enforcement", "countsAsDefect");
    private static readonly Shape CharacteristicShape = new("code", "name", "unit", "lower", "upper", "guardBand", "isRequired", "policy");
    private static readonly Shape LimitShape = new("constant", "terms");
    private static readonly Shape TermShape = new("factor", "position", "step", "characteristic");
    private static readonly Shape MaterialShape = new("code", "item", "alternatives", "tracing", "quantityMin", "quantityMax", "appliesTo", "policy");
    private static readonly Shape ComponentShape = new("position", "item", "alternatives", "appliesTo", "mustBeReleased", "policy");
    private static readonly Shape ToolShape = new("code", "toolClass", "setting", "torqueMin", "torqueMax", "policy");
    private static readonly Shape IntervalShape = new("code", "name", "from", "to", "minimum", "maximum", "appliesTo", "policy", "temperature", "openTimeOf");
    private static readonly Shape MilestoneShape = new("step", "kind", "name");

    /// <summary>Reads the revision at the present place.</summary>
    public static RoutingRevision Read(JsonReading reading, JsonElement element)
    {
        using var o = reading.Open(element, RevisionShape);
        var revision = new RoutingRevision(
            o.Code<ItemNumber>("item"),
            o.Code<RevisionCode>("revision"),
            o.Text("description"),
            o.ObjectOr("effectivity", Effectivity.Always, ReadEffectivity),
            o.List("steps", ReadStep),
            o.List("intervals", ReadInterval));
        RoutingChecks.Run(reading, revision);
        return revision;
    }

    private static Effectivity AppliesTo(ObjectReading o) => o.ObjectOr("appliesTo", Effectivity.Always, ReadEffectivity);

    private static RulePolicy? Policy(ObjectReading o, string name) => o.Has(name) ? o.Object(name, ReadPolicy) : null;

    private static Effectivity ReadEffectivity(JsonReading reading, JsonElement element)
    {
        using var o = reading.Open(element, EffectivityShape);
        var effectivity = new Effectivity(
            o.Codes<VariantCode>("variants"),
            o.Codes<Code>("options"),
            o.CodeOrNull<SerialNumber>("serialFrom"),
            o.CodeOrNull<SerialNumber>("serialTo"),
            o.TimeOrNull("openedFrom"),
            o.TimeOrNull("openedBefore"));
        if (effectivity.OpenedFrom >= effectivity.OpenedBefore)
        {
            o.Fail("openedBefore", "openedBefore must be later than openedFrom, else it applies to nothing.");
        }

        // With one serial as both ends, applying to itself tells whether the range holds anything.
        if (effectivity is { SerialFrom: { } from, SerialTo: { } to }
            && !(Effectivity.Always with { SerialTo = to }).AppliesTo(from, null, [], default))
        {
            o.Fail("serialTo", "serialTo comes before serialFrom (serials are ordered by length, then by character), so it applies to nothing.");
        }

        return effectivity;
    }

    private static RulePolicy ReadPolicy(JsonReading reading, JsonElement element)
    {
        using var o = reading.Open(element, PolicyShape);
        return new(o.OneOf<Enforcement>("enforcement"), o.Flag("countsAsDefect"));
    }

    private static Step ReadStep(JsonReading reading, JsonElement element)
    {
        using var o = reading.Open(element, StepShape);
        if (o.Has("allowsSupervised") && !o.Has("qualification"))
        {
            o.Fail("allowsSupervised", "Only a step that asks for a qualification can be done under supervision. Name the qualification, or leave it out.");
        }

        return new(
            o.Code<StepCode>("code"),
            o.Text("name"),
            AppliesTo(o),
            o.Codes<StepCode>("prerequisites"),
            o.Flag("isPointOfNoReturn", absent: false),
            o.Codes<StepCode>("hides"),
            o.Texts("cautions"),
            o.Codes<StationCode>("stations"),
            o.CodeOrNull<Code>("qualification"),
            o.List("characteristics", ReadCharacteristic),
            o.List("materials", ReadMaterial),
            o.List("components", ReadComponent),
            o.List("tools", ReadTool),
            Policy(o, "orderPolicy"))
        {
            AllowsSupervised = o.Has("allowsSupervised") ? o.Flag("allowsSupervised", absent: false) : null,
        };
    }

    private static Characteristic ReadCharacteristic(JsonReading reading, JsonElement element)
    {
        using var o = reading.Open(element, CharacteristicShape);
        return new(
            o.Code<Code>("code"),
            o.Text("name"),
            o.UnitOfMeasureOrNull("unit"),
            o.Has("lower") ? o.Object("lower", ReadLimit) : null,
            o.Has("upper") ? o.Object("upper", ReadLimit) : null,
            o.NumberOrZero("guardBand"),
            o.Flag("isRequired", absent: true),
            Policy(o, "policy"));
    }

    private static Limit ReadLimit(JsonReading reading, JsonElement element)
    {
        using var o = reading.Open(element, LimitShape);
        return new(o.Number("constant"), o.List("terms", ReadTerm));
    }

    private static LimitTerm ReadTerm(JsonReading reading, JsonElement element)
    {
        using var o = reading.Open(element, TermShape);
        return new(o.Number("factor"), o.CodeOrNull<Code>("position"), o.Code<StepCode>("step"), o.Code<Code>("characteristic"));
    }

    private static MaterialRequirement ReadMaterial(JsonReading reading, JsonElement element)
    {
        using var o = reading.Open(element, MaterialShape);
        var material = new MaterialRequirement(
            o.Code<Code>("code"),
            o.Code<ItemNumber>("item"),
            o.Codes<ItemNumber>("alternatives"),
            o.OneOf("tracing", absent: Tracing.Lot),
            o.ValueOrNull("quantityMin", Parts.Amount),
            o.ValueOrNull("quantityMax", Parts.Amount),
            AppliesTo(o),
            Policy(o, "policy"));
        Parts.CheckOrder(o, "quantityMax", material.QuantityMin, material.QuantityMax);
        return material;
    }

    private static ComponentRequirement ReadComponent(JsonReading reading, JsonElement element)
    {
        using var o = reading.Open(element, ComponentShape);
        return new(
            o.Code<Code>("position"),
            o.Code<ItemNumber>("item"),
            o.Codes<ItemNumber>("alternatives"),
            AppliesTo(o),
            o.Flag("mustBeReleased", absent: true),
            Policy(o, "policy"));
    }

    private static ToolRequirement ReadTool(JsonReading reading, JsonElement element)
    {
        using var o = reading.Open(element, ToolShape);
        var tool = new ToolRequirement(
            o.Code<Code>("code"),
            o.Code<Code>("toolClass"),
            o.CodeOrNull<Code>("setting"),
            o.ValueOrNull("torqueMin", Parts.Torque),
            o.ValueOrNull("torqueMax", Parts.Torque),
            Policy(o, "policy"));
        Parts.CheckOrder(o, "torqueMax", tool.TorqueMin, tool.TorqueMax);
        return tool;
    }

    private static IntervalRule ReadInterval(JsonReading reading, JsonElement element)
    {
        using var o = reading.Open(element, IntervalShape);
        var rule = new IntervalRule(
            o.Code<Code>("code"),
            o.Text("name"),
            o.Object("from", ReadMilestone)!,
            o.Object("to", ReadMilestone)!,
            o.DurationOrNull("minimum"),
            o.DurationOrNull("maximum"),
            AppliesTo(o),
            Policy(o, "policy"))
        {
            Temperature = o.Has("temperature") ? o.Object("temperature", CureReader.Condition) : null,
            OpenTimeOf = o.CodeOrNull<Code>("openTimeOf"),
        };
        if (rule.Temperature is not null && o.Has("minimum"))
        {
            o.Fail("minimum", "With temperature, the minimum follows from the table of what was used. Give a fixed one as temperature.fallback, and leave this out.");
        }

        if (rule.Temperature?.Fallback > rule.Maximum)
        {
            o.Fail("maximum", "The maximum is shorter than temperature.fallback, so nothing could meet both.");
        }

        if (rule.OpenTimeOf is not null && !o.Has("maximum"))
        {
            o.Fail("maximum", "The fixed time that holds where there are no readings is expected beside openTimeOf.");
        }

        if (rule.OpenTimeOf is not null && rule.Temperature is not null)
        {
            o.Fail("openTimeOf", "One rule has either a cure by temperature or an open time. Give the other one a rule of its own.");
        }

        if (rule.Minimum > rule.Maximum)
        {
            o.Fail("maximum", "The maximum is shorter than the minimum, so nothing could meet both.");
        }

        if (!o.Has("minimum") && !o.Has("maximum") && !o.Has("temperature"))
        {
            reading.Fail(null, "An interval rule needs a minimum, a maximum or both.");
        }

        return rule;
    }

    private static Milestone ReadMilestone(JsonReading reading, JsonElement element)
    {
        using var o = reading.Open(element, MilestoneShape);
        var milestone = new Milestone(o.Code<StepCode>("step"), o.OneOf<MilestoneKind>("kind"), o.CodeOrNull<Code>("name"));
        var needsName = milestone.Kind is MilestoneKind.Mark or MilestoneKind.ContainerOpened;
        if (needsName && !o.Has("name"))
        {
            o.Fail("name", milestone.Kind == MilestoneKind.Mark
                ? "The member is missing. It names the mark, such as OVEN-IN."
                : "The member is missing. It names the material requirement whose container is meant.");
        }
        else if (!needsName && o.Has("name"))
        {
            o.Fail("name", "Only a mark or a container has a name. Leave it out for started and completed.");
        }

        return milestone;
    }
}
