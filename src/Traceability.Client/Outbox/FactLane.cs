using System.Text.Json;

namespace Traceability.Client.Outbox;

/// <summary>What of a fact decides when it may be sent.</summary>
/// <param name="FactId">Its id; null if it has none yet.</param>
/// <param name="Type">Its type.</param>
/// <param name="Lane">What it is about: a unit, or the ground that work on units rests on.</param>
/// <param name="Record">The record that a correction or void is about.</param>
internal sealed record FactLane(Guid? FactId, string Type, string Lane, Guid? Record)
{
    /// <summary>
    /// The lane of everything that is not about one unit: definitions, lots, containers, tools, people. It is sent in its
    /// order, and nothing that came later is sent before it.
    /// </summary>
    public const string Ground = "ground";

    /// <summary>Whether what came later may rest on it.</summary>
    public bool IsGround => Lane == Ground;

    /// <summary>Reads it off a fact; throws <see cref="FormatException"/> if that is no fact at all.</summary>
    public static FactLane Of(JsonElement fact)
    {
        if (fact.ValueKind != JsonValueKind.Object || Text(fact, "type") is not { Length: > 0 } type)
        {
            throw new FormatException("A fact is a JSON object with a type, such as {\"type\":\"step-completed\", …}.");
        }

        Guid? id = null;
        if (fact.TryGetProperty("factId", out var given) && given.ValueKind != JsonValueKind.Null)
        {
            id = given.ValueKind == JsonValueKind.String && given.TryGetGuid(out var read) ? read : throw new FormatException("The member factId of a fact is a UUID.");
        }

        Guid? record = Text(fact, "record") is { } text && Guid.TryParse(text, out var about) ? about : null;
        var lane = Unit(fact)
            ?? (fact.TryGetProperty("replacement", out var replacement) ? Unit(replacement) : null)
            ?? (record is { } r ? $"record/{r}" : Ground);
        return new(id, type, lane, record);
    }

    private static string? Unit(JsonElement fact) =>
        fact.ValueKind == JsonValueKind.Object && fact.TryGetProperty("unit", out var unit) && unit.ValueKind == JsonValueKind.Object
            && Text(unit, "item") is { } item && Text(unit, "serial") is { } serial
            ? $"unit/{item}/{serial}"
            : null;

    private static string? Text(JsonElement element, string name) =>
        element.TryGetProperty(name, out var value) && value.ValueKind == JsonValueKind.String ? value.GetString() : null;
}
