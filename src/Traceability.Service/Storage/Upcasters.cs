using System.Collections.Frozen;
using System.Text.Json.Nodes;

namespace Traceability.Service.Storage;

/// <summary>How one old form of an event becomes the next.</summary>
/// <param name="From">The stored name of the old form, such as step_completed.</param>
/// <param name="To">The stored name of the next form, such as step_completed_v2.</param>
/// <param name="Raise">Makes the next form's JSON from the old one's, in place. A pure function: no time, no look-up.</param>
public sealed record Upcaster(string From, string To, Action<JsonObject> Raise);

/// <summary>Brings stored events of every age to the present form when they are read. What is stored is never changed.</summary>
/// <remarks>
/// The form of an event is told by its stored name: a form that older programs would misread gets a name of its own (name_v2), so
/// that an older program meets an event that it doesn't know, which is an explicit unknown, and never one that it takes for something
/// else. A member that may be missing needs none of this: what is missing reads as nothing said. A correction carries the record that
/// replaces another; that record is raised, too.
/// </remarks>
internal sealed class Upcasters
{
    private const string Correction = "record_corrected";
    private readonly FrozenDictionary<string, Upcaster> _steps;

    public Upcasters(params IEnumerable<Upcaster> steps) => _steps = steps.ToFrozenDictionary(s => s.From, StringComparer.Ordinal);

    /// <summary>The steps from every form that was ever stored. So far no form has been left behind.</summary>
    public static Upcasters All { get; } = new();

    /// <summary>Whether an event stored under this name may have an old form within it or be one.</summary>
    public bool MayRaise(string name) => _steps.Count > 0 && (_steps.ContainsKey(name) || string.Equals(name, Correction, StringComparison.Ordinal));

    /// <summary>The present name and JSON of a stored event; as they are, if no step begins at the name.</summary>
    public (string Name, string Json) Raise(string name, string json)
    {
        if (!MayRaise(name) || JsonNode.Parse(json) is not JsonObject content)
        {
            return (name, json);
        }

        var present = Raise(name, content);
        if (string.Equals(name, Correction, StringComparison.Ordinal) && content["replacement"] is JsonObject replacement && replacement["type"]?.GetValue<string>() is { } kind)
        {
            replacement["type"] = Raise(kind.Replace('-', '_'), replacement).Replace('_', '-');
        }

        return (present, content.ToJsonString());
    }

    private string Raise(string name, JsonObject content)
    {
        while (_steps.TryGetValue(name, out var step))
        {
            step.Raise(content);
            name = step.To;
        }

        return name;
    }
}
