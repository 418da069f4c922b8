using System.Collections.Frozen;
using System.Text.Json.Nodes;
using Traceability.Domain.Quantities;

namespace Traceability.Service.Features.MasterData;

/// <summary>Turns placed nodes into the JSON of the wire.</summary>
/// <remarks>
/// YAML can't tell a setting "5" from a number 5, nor a code "NO" from a truth value. Here the member's name tells:
/// only the members that are numbers or truth values on the wire are read as such, everything else is text.
/// </remarks>
internal static class NodeJson
{
    private static readonly FrozenSet<string> Numbers = FrozenSet.Create(StringComparer.Ordinal, "value", "constant", "factor", "guardBand", "approvalsNeeded", "tolerance");

    private static readonly FrozenSet<string> Flags = FrozenSet.Create(
        StringComparer.Ordinal,
        "isPointOfNoReturn", "isRequired", "mustBeReleased", "needsCalibration", "needsInspection", "isReleased", "foundGood", "leftGood", "countsAsDefect", "release", "allowsSupervised");

    /// <summary>The JSON of the value of a member.</summary>
    public static JsonNode? Of(PlacedNode node, string member) => node switch
    {
        PlacedMap map => Of(map),
        PlacedList list => new JsonArray([.. list.Entries.Select(e => Of(e, string.Empty))]),
        PlacedScalar scalar => Of(scalar, member),
        _ => throw new ArgumentOutOfRangeException(nameof(node)),
    };

    /// <summary>Whether a scalar is the given truth value.</summary>
    public static bool IsFlag(PlacedNode? node, bool value) =>
        node is PlacedScalar { IsPlain: true } scalar && string.Equals(scalar.Text, value ? "true" : "false", StringComparison.OrdinalIgnoreCase);

    private static JsonObject Of(PlacedMap map)
    {
        var json = new JsonObject();
        foreach (var member in map.Members)
        {
            json[member.Name] = Of(member.Value, member.Name);
        }

        return json;
    }

    private static JsonNode? Of(PlacedScalar scalar, string member)
    {
        if (scalar.IsNull)
        {
            return null;
        }

        if (scalar.IsPlain && Numbers.Contains(member) && RecordedValue.TryParse(scalar.Text, out _, out _))
        {
            return JsonNode.Parse(scalar.Text);
        }

        return scalar.IsPlain && Flags.Contains(member) && (IsFlag(scalar, true) || IsFlag(scalar, false))
            ? JsonValue.Create(IsFlag(scalar, true))
            : JsonValue.Create(scalar.Text);
    }
}
