using System.Globalization;
using System.Text.Encodings.Web;
using System.Text.Json;
using System.Text.Json.Nodes;

namespace Traceability.Simulator.Plant;

/// <summary>Parts of fact bodies, in the names of the wire.</summary>
internal static class Body
{
    /// <summary>How bodies are written: the plus sign of an offset stays readable.</summary>
    public static JsonSerializerOptions Plain { get; } = new() { Encoder = JavaScriptEncoder.UnsafeRelaxedJsonEscaping };

    /// <summary>A time as RFC 3339 with offset, in whole seconds.</summary>
    public static string Time(DateTimeOffset at) => at.ToString("yyyy-MM-dd'T'HH:mm:sszzz", CultureInfo.InvariantCulture);

    public static JsonObject Unit(UnitId unit) => new() { ["item"] = unit.Item, ["serial"] = unit.Serial };

    public static JsonObject Lot(string item, string lot) => new() { ["item"] = item, ["lot"] = lot };

    public static JsonObject Quantity(decimal value, string unit) => new() { ["value"] = value, ["unit"] = unit };

    public static JsonObject Measurement(string characteristic, decimal value, string unit) =>
        new() { ["characteristic"] = characteristic, ["value"] = value, ["unit"] = unit };

    public static JsonObject Check(string characteristic, bool passed) =>
        new() { ["characteristic"] = characteristic, ["passed"] = passed };

    public static JsonObject Component(string position, UnitId component) =>
        new() { ["position"] = position, ["component"] = Unit(component) };

    public static JsonObject Tool(string tool, string? setting = null)
    {
        var body = new JsonObject { ["tool"] = tool };
        if (setting is not null)
        {
            body["setting"] = setting;
        }

        return body;
    }

    public static JsonObject Defect(string defect, string note) =>
        new() { ["defect"] = defect, ["count"] = 1, ["note"] = note };

    public static JsonObject Material(string item, IEnumerable<string> lots, string? container, JsonNode? quantity, string requirement)
    {
        var body = new JsonObject { ["item"] = item, ["lots"] = Texts(lots) };
        if (container is not null)
        {
            body["container"] = container;
        }

        if (quantity is not null)
        {
            body["quantity"] = quantity;
        }

        body["requirement"] = requirement;
        return body;
    }

    public static JsonArray Texts(IEnumerable<string> texts) => [.. texts.Select(t => (JsonNode?)JsonValue.Create(t))];

    public static JsonArray List(params JsonNode?[] nodes) => [.. nodes];
}

/// <summary>A unit's key.</summary>
public readonly record struct UnitId(string Item, string Serial)
{
    /// <summary>As in paths: "item/serial".</summary>
    public override string ToString() => $"{Item}/{Serial}";
}
