using System.Text.Json.Nodes;

namespace Traceability.Service.Tests.Poison;

/// <summary>Damages JSON at random: the same seed gives the same damage.</summary>
internal static class JsonDamage
{
    private static readonly string[] Texts =
    [
        "", "x", "9999-12-31T23:59:59.9999999Z", "0001-01-01T00:00:00Z", "0001-01-01T00:00:00+14:00", "99999-01-01T00:00:00Z", "P99999999999Y", "PT1000000000000S",
        "-PT10M", "LAMP", "1", "A", "step-completed", "record-voided", "unit-held", "completed", "../../etc/localtime", "smoot", "N.m", "mm", new('Z', 300),
    ];

    private static readonly string[] Numbers =
        ["0", "-1", "1e40", "-1e40", "79228162514264337593543950335", "1e-28", "0.0000000000000000000000000001", "2147483648", "9223372036854775808", "1e400"];

    /// <summary>The JSON with some of its values changed, taken out or doubled.</summary>
    public static string Of(string json, Dice dice)
    {
        var root = JsonNode.Parse(json)!;
        for (var changes = dice.Next(1, 4); changes > 0; changes--)
        {
            var places = Places(root).ToArray();
            if (places.Length == 0)
            {
                break;
            }

            Change(places[dice.Next(places.Length)], dice);
        }

        return root.ToJsonString();
    }

    private static void Change(JsonNode place, Dice dice)
    {
        switch (place.Parent)
        {
            case JsonObject o:
                var name = place.GetPropertyName();
                if (dice.Next(5) == 0)
                {
                    o.Remove(name);
                }
                else
                {
                    o[name] = Value(place, dice);
                }

                break;
            case JsonArray a:
                var index = place.GetElementIndex();
                if (dice.Next(3) == 0)
                {
                    a.Insert(index, place.DeepClone());
                }
                else
                {
                    a[index] = Value(place, dice);
                }

                break;
        }
    }

    private static JsonNode? Value(JsonNode old, Dice dice) => dice.Next(9) switch
    {
        0 => null,
        1 => new JsonArray(),
        2 => new JsonObject(),
        3 => JsonValue.Create(dice.Next(2) == 0),
        4 or 5 => JsonNode.Parse(Numbers[dice.Next(Numbers.Length)]),
        6 when old is JsonObject or JsonArray => new JsonArray(old.DeepClone(), old.DeepClone()),
        _ => JsonValue.Create(Texts[dice.Next(Texts.Length)]),
    };

    // Nulls have no node of their own and are left as they are.
    private static IEnumerable<JsonNode> Places(JsonNode node) => node switch
    {
        JsonObject o => o.Select(p => p.Value).OfType<JsonNode>().SelectMany(v => Places(v).Prepend(v)),
        JsonArray a => a.OfType<JsonNode>().SelectMany(v => Places(v).Prepend(v)),
        _ => [],
    };
}
