using System.Collections.Frozen;
using System.Text.Json;
using Traceability.Domain.Facts;
using Traceability.Domain.Primitives;

namespace Traceability.Service.Http.Reading;

/// <summary>What every fact says, whatever its type.</summary>
/// <param name="At">When it happened, by the terminal's clock; default if that could not be read.</param>
/// <param name="Station">Where.</param>
/// <param name="Person">Who.</param>
internal readonly record struct CommonMembers(DateTimeOffset At, StationCode? Station, PersonCode? Person);

/// <summary>How one type of fact is read.</summary>
/// <param name="Name">The type's name on the wire.</param>
/// <param name="Shape">The members of a fact that is sent.</param>
/// <param name="ReplacementShape">The members of a replacement, which has no id.</param>
/// <param name="Read">Reads it.</param>
internal sealed record FactType(string Name, Shape Shape, Shape ReplacementShape, Func<ObjectReading, CommonMembers, Fact> Read)
{
    private static readonly Shape Common = new("factId", "type", "occurredAt", "station", "person");
    private static readonly Shape CommonOfReplacement = new("type", "occurredAt", "station", "person");

    private static readonly FrozenDictionary<string, FactType> Known = UnitFactTypes.All
        .Concat(BatchFactTypes.All)
        .Concat(NonconformanceFactTypes.All)
        .Concat(DefinitionFactTypes.All)
        .Concat(ToolFactTypes.All)
        .Concat(ContainmentFactTypes.All)
        .Concat(CorrectionFactTypes.All)
        .ToFrozenDictionary(t => t.Name, StringComparer.Ordinal);

    /// <summary>The names of all types, in alphabetical order.</summary>
    public static ImmutableArray<string> Names { get; } = [.. Known.Keys.Order(StringComparer.Ordinal)];

    /// <summary>The members that are read while the type is not known.</summary>
    public static Shape CommonShape => Common;

    /// <summary>Describes a type by the members that it adds to the common ones.</summary>
    public static FactType Of(string name, Func<ObjectReading, CommonMembers, Fact> read, params string[] members)
    {
        var own = new Shape(members);
        return new(name, own.Behind(Common), own.Behind(CommonOfReplacement), read);
    }

    /// <summary>The type that an object says it is; null with a fault.</summary>
    public static FactType? Find(JsonReading reading, JsonElement element)
    {
        if (element.ValueKind != JsonValueKind.Object)
        {
            reading.Fail(null, $"A fact is expected: an object, not {JsonReading.Describe(element)}.");
            return null;
        }

        var type = default(JsonElement);
        foreach (var property in element.EnumerateObject())
        {
            if (Shape.Is(property, "type"u8))
            {
                type = property.Value;
                break;
            }
        }

        if (type.ValueKind is JsonValueKind.Undefined or JsonValueKind.Null)
        {
            reading.Fail("type", "The member is missing. It says what kind of fact this is, such as step-completed.");
            return null;
        }

        if (!reading.TryText(type, "type", out var name))
        {
            return null;
        }

        if (Known.TryGetValue(name, out var found))
        {
            return found;
        }

        var hint = Suggestions.Hint(name, Names);
        reading.Fail("type", $"There is no such type of fact.{(hint.Length > 0 ? hint : $" The types are {string.Join(", ", Names)}.")}");
        return null;
    }

    /// <summary>Reads the members that all types have.</summary>
    public static CommonMembers ReadCommon(ObjectReading o) =>
        new(o.Time("occurredAt"), o.CodeOrNull<StationCode>("station"), o.CodeOrNull<PersonCode>("person"));
}
