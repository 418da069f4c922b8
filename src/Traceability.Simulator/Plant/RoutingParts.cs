using System.Text.Json.Nodes;

namespace Traceability.Simulator.Plant;

/// <summary>Short forms for the parts of a routing revision, in the names of the wire.</summary>
internal static class RoutingParts
{
    public static JsonObject Always() => [];

    public static JsonObject ForVariant(string variant) => new() { ["variants"] = Body.Texts([variant]) };

    public static JsonObject Step(
        string code,
        string name,
        string[] after,
        string[] stations,
        string? qualification = null,
        bool noReturn = false,
        bool allowsSupervised = false,
        string[]? hides = null,
        string[]? cautions = null,
        JsonObject? appliesTo = null,
        JsonArray? characteristics = null,
        JsonArray? materials = null,
        JsonArray? components = null,
        JsonArray? tools = null)
    {
        var step = new JsonObject
        {
            ["code"] = code,
            ["name"] = name,
            ["appliesTo"] = appliesTo ?? Always(),
            ["prerequisites"] = Body.Texts(after),
            ["isPointOfNoReturn"] = noReturn,
            ["hides"] = Body.Texts(hides ?? []),
            ["cautions"] = Body.Texts(cautions ?? []),
            ["stations"] = Body.Texts(stations),
            ["characteristics"] = characteristics ?? [],
            ["materials"] = materials ?? [],
            ["components"] = components ?? [],
            ["tools"] = tools ?? [],
        };
        if (allowsSupervised)
        {
            step["allowsSupervised"] = true;
        }

        return With(step, "qualification", qualification);
    }

    public static JsonObject Check(string code, string name) =>
        new() { ["code"] = code, ["name"] = name, ["guardBand"] = 0m, ["isRequired"] = true };

    public static JsonObject Measure(string code, string name, string unit, decimal? lower, decimal? upper, decimal guardBand = 0m) =>
        Measure(code, name, unit, Fixed(lower), Fixed(upper), guardBand);

    public static JsonObject Measure(string code, string name, string unit, JsonObject? lower, JsonObject? upper, decimal guardBand = 0m)
    {
        var body = new JsonObject { ["code"] = code, ["name"] = name, ["unit"] = unit, ["guardBand"] = guardBand, ["isRequired"] = true };
        With(body, "lower", lower);
        return With(body, "upper", upper);
    }

    public static JsonObject? Fixed(decimal? constant) =>
        constant is { } value ? new() { ["constant"] = value, ["terms"] = new JsonArray() } : null;

    public static JsonObject Derived(decimal constant, params (decimal Factor, string Step, string Characteristic)[] terms) => new()
    {
        ["constant"] = constant,
        ["terms"] = new JsonArray([.. terms.Select(t => (JsonNode)new JsonObject
        {
            ["factor"] = t.Factor, ["step"] = t.Step, ["characteristic"] = t.Characteristic,
        })]),
    };

    public static JsonObject Material(
        string code, string item, string tracing, decimal? least = null, decimal? most = null, string? unit = null, JsonObject? appliesTo = null)
    {
        var body = new JsonObject
        {
            ["code"] = code,
            ["item"] = item,
            ["alternatives"] = new JsonArray(),
            ["tracing"] = tracing,
            ["appliesTo"] = appliesTo ?? Always(),
        };
        With(body, "quantityMin", least is { } l ? Body.Quantity(l, unit!) : null);
        return With(body, "quantityMax", most is { } m ? Body.Quantity(m, unit!) : null);
    }

    public static JsonObject Component(string position, string item, bool mustBeReleased) => new()
    {
        ["position"] = position,
        ["item"] = item,
        ["alternatives"] = new JsonArray(),
        ["appliesTo"] = Always(),
        ["mustBeReleased"] = mustBeReleased,
    };

    public static JsonObject Tool(string code, string toolClass, string? setting = null, decimal? least = null, decimal? most = null)
    {
        var body = new JsonObject { ["code"] = code, ["toolClass"] = toolClass };
        With(body, "setting", setting);
        With(body, "torqueMin", least is { } l ? Body.Quantity(l, "N.m") : null);
        return With(body, "torqueMax", most is { } m ? Body.Quantity(m, "N.m") : null);
    }

    public static JsonObject Interval(
        string code, string name, JsonObject from, JsonObject to, string? minimum, string? maximum, JsonObject? appliesTo = null, JsonObject? temperature = null)
    {
        var body = new JsonObject { ["code"] = code, ["name"] = name, ["from"] = from, ["to"] = to, ["appliesTo"] = appliesTo ?? Always() };
        With(body, "minimum", minimum);
        With(body, "temperature", temperature);
        return With(body, "maximum", maximum);
    }

    public static JsonObject Milestone(string step, string kind, string? name = null) =>
        With(new() { ["step"] = step, ["kind"] = kind }, "name", name);

    public static JsonObject Revision(string item, string revision, string description, JsonObject effectivity, JsonArray steps, JsonArray intervals) => new()
    {
        ["item"] = item,
        ["revision"] = revision,
        ["description"] = description,
        ["effectivity"] = effectivity,
        ["steps"] = steps,
        ["intervals"] = intervals,
    };

    private static JsonObject With(JsonObject body, string name, JsonNode? value)
    {
        if (value is not null)
        {
            body[name] = value;
        }

        return body;
    }
}
