using System.Text.Encodings.Web;
using System.Text.Json;
using System.Text.Json.Serialization;

namespace Traceability.Contracts;

/// <summary>How the messages of this assembly are written as JSON.</summary>
public static class WireJson
{
    /// <summary>The options, shared and read-only: camelCase, enums as kebab-case texts, durations as ISO 8601, nulls left out.</summary>
    public static JsonSerializerOptions Options { get; } = Frozen();

    /// <summary>Makes options of the same form that a caller may change before use.</summary>
    public static JsonSerializerOptions Create()
    {
        var options = new JsonSerializerOptions
        {
            PropertyNamingPolicy = JsonNamingPolicy.CamelCase,
            DefaultIgnoreCondition = JsonIgnoreCondition.WhenWritingNull,
            AllowOutOfOrderMetadataProperties = true,

            // Bodies are JSON, not text inside HTML: a plus sign or an accent may stand as it is.
            Encoder = JavaScriptEncoder.UnsafeRelaxedJsonEscaping,
        };
        options.Converters.Add(new JsonStringEnumConverter(JsonNamingPolicy.KebabCaseLower, allowIntegerValues: false));
        options.Converters.Add(new IsoDurationConverter());
        return options;
    }

    private static JsonSerializerOptions Frozen()
    {
        var options = Create();
        options.MakeReadOnly(populateMissingResolver: true);
        return options;
    }

    private sealed class IsoDurationConverter : JsonConverter<TimeSpan>
    {
        public override TimeSpan Read(ref Utf8JsonReader reader, Type typeToConvert, JsonSerializerOptions options) =>
            IsoDuration.TryParse(reader.GetString(), out var value) ? value : throw new JsonException("An ISO 8601 duration such as PT10M is expected.");

        public override void Write(Utf8JsonWriter writer, TimeSpan value, JsonSerializerOptions options) =>
            writer.WriteStringValue(IsoDuration.Write(value));
    }
}
