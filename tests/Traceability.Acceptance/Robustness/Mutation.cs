using System.Text;
using System.Text.Json;
using System.Text.Json.Nodes;

namespace Traceability.Acceptance.Robustness;

/// <summary>Spoils JSON bodies by chance.</summary>
internal static class Mutation
{
    // Stand for tokens that a JSON writer would not write.
    private static readonly (string Mark, string Token)[] Tokens =
        [("@@0", "NaN"), ("@@1", "-Infinity"), ("@@2", "1e999"), ("@@3", "-0"), ("@@4", "123456789012345678901234567890"), ("@@5", "1e-40"), ("@@6", "9999999999999999999999999999"), ("@@7", "\"\\ud800\"")];

    private static readonly string[] Texts =
    [
        "", " ", "NaN", "null", "LAMP", "1", "-1", "A/B", "..", ".", "'; drop table unit; --", "%s%n", "\u0001", "\u007f", "é", "\u202e", "𝟙", "+", "P-1", "0001-01-01T00:00:00Z", "9999-12-31T23:59:59.9999999Z",
        "2026-03-01T08:00:00+14:00", "2026-03-01T08:00:60Z", "1970-01-01T00:00:00Z", "2199-12-31T23:59:59Z", "P99999999D", "PT0S", "-PT1S", "m", "[pi]", "10*99.m", "m9999999999", "%", "{x}", "L9", "DESK", "BOND", "CHIP",
    ];

    /// <summary>A text that something might stumble over.</summary>
    public static string Text(Dice dice) => dice.Chance(5) ? new string(dice.Pick('x', '0', '/', 'é'), dice.Pick(20, 41, 2_001, 3_000)) : dice.Pick(Texts);

    /// <summary>The body, spoiled.</summary>
    public static byte[] Of(Dice dice, string json)
    {
        if (dice.Chance(6))
        {
            return [.. Enumerable.Range(0, dice.Int(0, 300)).Select(_ => (byte)dice.Int(0, 255))];
        }

        if (Parse(json) is not JsonObject body || HasDuplicates(json))
        {
            return Bytes(dice, json);
        }

        for (var times = dice.Pick(0, 1, 1, 1, 2, 4); times > 0; times--)
        {
            SpoilOne(dice, body);
        }

        var text = body.ToJsonString();
        foreach (var (mark, token) in Tokens)
        {
            text = text.Replace($"\"{mark}\"", token, StringComparison.Ordinal);
        }

        text = text.Replace("@@again:", string.Empty, StringComparison.Ordinal);
        return Bytes(dice, dice.Chance(2) ? Deep(dice, text) : text);
    }

    /// <summary>Lines, spoiled, with ends of line of all kinds.</summary>
    public static byte[] Lines(Dice dice, IEnumerable<string> lines) =>
        [.. lines.SelectMany(l => Of(dice, l).Where(b => b is not (byte)'\n').Concat(Encoding.ASCII.GetBytes(dice.Pick("\n", "\r\n", "\n\n", "\n \n", "\r"))))];

    // Null for what isn't JSON, such as a file: its bytes are spoiled.
    private static JsonNode? Parse(string json)
    {
        try
        {
            return JsonNode.Parse(json, documentOptions: new() { AllowDuplicateProperties = true });
        }
        catch (JsonException)
        {
            return null;
        }
    }

    // A body that is to have a member twice can't be parsed into nodes; its bytes are spoiled instead.
    private static bool HasDuplicates(string json)
    {
        try
        {
            _ = JsonNode.Parse(json, documentOptions: new() { AllowDuplicateProperties = false });
            return false;
        }
        catch (System.Text.Json.JsonException)
        {
            return true;
        }
    }

    private static void SpoilOne(Dice dice, JsonObject root)
    {
        var objects = Objects(root).ToArray();
        var at = dice.Pick(objects);
        if (at.Count == 0)
        {
            at["x"] = 1;
            return;
        }

        var (name, value) = at.ElementAt(dice.Int(0, at.Count - 1));
        switch (dice.Int(0, 8))
        {
            case 0:
                at.Remove(name);
                break;
            case 1:
                at.Remove(name);
                at[dice.Pick(name.ToUpperInvariant(), name + "s", "x", "", Text(dice))] = value?.DeepClone();
                break;
            case 2:
                at["@@again:" + name] = value?.DeepClone();
                break;
            case 3:
                at[name] = dice.Pick(Tokens).Mark;
                break;
            case 4:
                at[name] = Text(dice);
                break;
            case 5:
                at[name] = Other(dice);
                break;
            case 6 when value is JsonArray array && array.Count > 0:
                array.Add(array[0]?.DeepClone());
                break;
            case 7 when value is JsonArray array:
                array.Add(Other(dice));
                break;
            default:
                at[name] = dice.Pick(objects).DeepClone();
                break;
        }
    }

    private static JsonNode? Other(Dice dice) => dice.Int(0, 8) switch
    {
        0 => null,
        1 => true,
        2 => 0,
        3 => -1,
        4 => JsonValue.Create(79228162514264337593543950335m),
        5 => new JsonArray(),
        6 => new JsonObject(),
        7 => new JsonArray([.. Enumerable.Range(0, 600).Select(i => (JsonNode)i)]),
        _ => new JsonArray(new JsonArray(new JsonArray())),
    };

    private static IEnumerable<JsonObject> Objects(JsonNode? node) => node switch
    {
        JsonObject o => o.SelectMany(m => Objects(m.Value)).Prepend(o),
        JsonArray a => a.SelectMany(Objects),
        _ => [],
    };

    private static string Deep(Dice dice, string text)
    {
        var depth = dice.Pick(23, 24, 25, 64, 1_000, 20_000);
        return dice.Chance(50)
            ? string.Concat(Enumerable.Repeat("{\"unit\":", depth)) + text + new string('}', depth)
            : new string('[', depth) + text + new string(']', depth);
    }

    private static byte[] Bytes(Dice dice, string text)
    {
        var bytes = Encoding.UTF8.GetBytes(text);
        switch (dice.Int(0, 19))
        {
            case 0 when bytes.Length > 0:
                return bytes[..dice.Int(0, bytes.Length - 1)];
            case 1 when bytes.Length > 0:
                bytes[dice.Int(0, bytes.Length - 1)] = (byte)dice.Int(0, 255);
                return bytes;
            case 2:
                return [0xEF, 0xBB, 0xBF, .. bytes];
            case 3:
                return [.. bytes, .. bytes];
            case 4 when bytes.Length > 0:
                var at = dice.Int(0, bytes.Length - 1);
                return [.. bytes[..at], 0xC3, 0x28, .. bytes[at..]];
            case 5:
                return Encoding.Unicode.GetBytes(text);
            default:
                return bytes;
        }
    }
}
