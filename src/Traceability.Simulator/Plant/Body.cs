using System.Globalization;
using System.Text.Json;
using System.Text.Json.Nodes;
using System.Text.Json.Serialization;
using Traceability.Contracts;
using Traceability.Contracts.Facts;

namespace Traceability.Simulator.Plant;

/// <summary>Parts of fact bodies, in the names of the wire.</summary>
internal static class Body
{
    // A member that the contract doesn't know is a mistake of the model, not something to leave out silently.
    private static readonly JsonSerializerOptions Strict = new(WireJson.Options) { UnmappedMemberHandling = JsonUnmappedMemberHandling.Disallow };

    /// <summary>The body as the contract's own message writes it.</summary>
    public static string Write(JsonObject body)
    {
        var message = body.Deserialize<FactMessage>(Strict) ?? throw new InvalidOperationException("A fact is null.");
        return JsonSerializer.Serialize(message, WireJson.Options);
    }

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
