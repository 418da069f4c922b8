using System.Text.Json;
using System.Text.Json.Serialization;

namespace Traceability.Domain.Primitives;

/// <summary>Stores a code as its plain text, also as a key of a dictionary.</summary>
public sealed class CodeJsonConverter<T> : JsonConverter<T>
    where T : struct, ICode<T>
{
    /// <inheritdoc />
    public override T Read(ref Utf8JsonReader reader, Type typeToConvert, JsonSerializerOptions options) =>
        Codes.TryParse<T>(reader.GetString(), out var code) ? code : throw new JsonException(Codes.Form<T>());

    /// <inheritdoc />
    public override void Write(Utf8JsonWriter writer, T value, JsonSerializerOptions options) =>
        writer.WriteStringValue(value.Value);

    /// <inheritdoc />
    public override T ReadAsPropertyName(ref Utf8JsonReader reader, Type typeToConvert, JsonSerializerOptions options) =>
        Read(ref reader, typeToConvert, options);

    /// <inheritdoc />
    public override void WriteAsPropertyName(Utf8JsonWriter writer, T value, JsonSerializerOptions options) =>
        writer.WritePropertyName(value.Value);
}
