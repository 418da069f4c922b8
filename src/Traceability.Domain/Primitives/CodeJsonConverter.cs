using System.Text.Json;
using System.Text.Json.Serialization;

namespace Traceability.Domain.Primitives;

/// <summary>Stores a code as its plain text, also as a key of a dictionary.</summary>
public sealed class CodeJsonConverter<T> : JsonConverter<T>
    where T : struct, ICode<T>
{
    /// <inheritdoc />
    public override T Read(ref Utf8JsonReader reader, Type typeToConvert, JsonSerializerOptions options) =>
        (IsPlain(ref reader) && Codes.TryParse<T>(reader.ValueSpan, out var code)) || Codes.TryParse(reader.GetString(), out code)
            ? code
            : throw new JsonException(Codes.Form<T>());

    /// <inheritdoc />
    public override void Write(Utf8JsonWriter writer, T value, JsonSerializerOptions options) =>
        writer.WriteStringValue(value.Value);

    /// <inheritdoc />
    public override T ReadAsPropertyName(ref Utf8JsonReader reader, Type typeToConvert, JsonSerializerOptions options) =>
        Read(ref reader, typeToConvert, options);

    /// <inheritdoc />
    public override void WriteAsPropertyName(Utf8JsonWriter writer, T value, JsonSerializerOptions options) =>
        writer.WritePropertyName(value.Value);

    // As it stands in the JSON: a text in one piece, without anything escaped.
    private static bool IsPlain(ref Utf8JsonReader reader) =>
        reader.TokenType is JsonTokenType.String or JsonTokenType.PropertyName && !reader.HasValueSequence && !reader.ValueIsEscaped;
}
