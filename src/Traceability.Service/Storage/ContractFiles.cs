using System.Text.Json;
using System.Text.Json.Nodes;
using System.Text.Json.Schema;
using System.Text.Json.Serialization.Metadata;
using Traceability.Contracts;
using Traceability.Contracts.Scope;
using Traceability.Domain.Primitives;

namespace Traceability.Service.Storage;

/// <summary>Makes the files of contracts/ that follow from code, so that a test can tell when one has changed.</summary>
public static class ContractFiles
{
    /// <summary>The version of the stored form of every event; a change that old events would not survive makes the next one.</summary>
    public const string EventVersion = "v1";

    private static readonly JsonSerializerOptions Indented = new(EventJson.Options) { WriteIndented = true };

    /// <summary>Every file by its path below contracts/, with its text.</summary>
    public static IReadOnlyDictionary<string, string> All() =>
        new Dictionary<string, string>(StringComparer.Ordinal)
        {
            ["scope-question.schema.json"] = Schema(
                WireJson.Options, typeof(ScopeQuestion), "scope-question.schema.json", "scope-question", "A question for a scope: which units does this reach, or may it have reached?")
                .ToJsonString(Indented) + "\n",
        }.Concat(EventNames.All.Select(e => KeyValuePair.Create(
            $"events/{e.Name}.{EventVersion}.schema.json",
            Schema(
                EventJson.Options,
                e.Type,
                $"{e.Name}.{EventVersion}.schema.json",
                e.Name,
                "One stored event. Nulls, empty arrays and an effectivity that applies to everything are left out.").ToJsonString(Indented) + "\n")))
        .ToDictionary(StringComparer.Ordinal);

    /// <summary>Writes the files.</summary>
    /// <param name="folder">The folder contracts/; made if it isn't there.</param>
    public static void Write(string folder)
    {
        foreach (var (path, text) in All())
        {
            var file = Path.Combine(folder, path);
            Directory.CreateDirectory(Path.GetDirectoryName(file)!);
            File.WriteAllText(file, text);
        }
    }

    private static JsonObject Schema(JsonSerializerOptions options, Type type, string id, string title, string description)
    {
        var schema = options.GetJsonSchemaAsNode(type, new() { TreatNullObliviousAsNonNullable = true, TransformSchemaNode = Describe }).AsObject();
        var result = new JsonObject
        {
            ["$schema"] = "https://json-schema.org/draft/2020-12/schema",
            ["$id"] = id,
            ["title"] = title,
            ["description"] = description,
        };
        foreach (var (key, value) in schema.ToArray())
        {
            schema.Remove(key);
            result[key] = value;
        }

        return result;
    }

    // The framework knows nothing of what converters write, so the forms of codes, durations and times are told here.
    private static JsonNode Describe(JsonSchemaExporterContext context, JsonNode schema)
    {
        var type = Nullable.GetUnderlyingType(context.TypeInfo.Type) ?? context.TypeInfo.Type;
        var isNullable = type != context.TypeInfo.Type;
        if (type == typeof(TimeSpan))
        {
            return Text(isNullable, "duration", null, "ISO 8601 duration, such as PT10M.");
        }

        if (type == typeof(DateTimeOffset))
        {
            return Text(isNullable, "date-time", null, null);
        }

        if (type == typeof(decimal))
        {
            return new JsonObject { ["type"] = isNullable ? new JsonArray("number", "null") : "number" };
        }

        if (schema is JsonObject { } o && o["required"] is JsonArray listed && context.TypeInfo.Kind == JsonTypeInfoKind.Object)
        {
            // The framework takes every parameter of a constructor for required; what is read says otherwise.
            var required = listed
                .Select(n => n!.GetValue<string>())
                .Where(n => context.TypeInfo.Properties.FirstOrDefault(p => string.Equals(p.Name, n, StringComparison.Ordinal)) is not { IsRequired: false });
            o["required"] = new JsonArray([.. required.Select(n => (JsonNode)n)]);
        }

        return type.GetInterfaces().FirstOrDefault(i => i.IsGenericType && i.GetGenericTypeDefinition() == typeof(ICode<>)) is not null
            ? Text(isNullable, null, LengthMax(type), null)
            : schema;
    }

    private static JsonObject Text(bool isNullable, string? format, int? lengthMax, string? description)
    {
        var text = new JsonObject { ["type"] = isNullable ? new JsonArray("string", "null") : "string" };
        if (format is not null)
        {
            text["format"] = format;
        }

        if (lengthMax is not null)
        {
            text["minLength"] = 1;
            text["maxLength"] = lengthMax;
            text["pattern"] = "^[A-Za-z0-9._+-]+$";
        }

        if (description is not null)
        {
            text["description"] = description;
        }

        return text;
    }

    private static int LengthMax(Type code) => (int)code.GetProperty(nameof(ICode<Code>.LengthMax))!.GetValue(null)!;
}
