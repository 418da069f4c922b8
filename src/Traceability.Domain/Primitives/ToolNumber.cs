using System.Text.Json.Serialization;

namespace Traceability.Domain.Primitives;

/// <summary>Identifies one tool.</summary>
[JsonConverter(typeof(CodeJsonConverter<ToolNumber>))]
public readonly record struct ToolNumber : ICode<ToolNumber>
{
    private readonly string? _value;

    private ToolNumber(string value) => _value = value;

    /// <inheritdoc />
    public static int LengthMax => 30;

    /// <inheritdoc />
    public static string Name => "tool number";

    /// <inheritdoc />
    public string Value => _value ?? throw new InvalidOperationException("A default ToolNumber has no value.");

    /// <inheritdoc />
    public static ToolNumber Wrap(string text) => new(text);

    /// <summary>Reads the text, or throws <see cref="FormatException"/>.</summary>
    public static ToolNumber Parse(string text) => Codes.Parse<ToolNumber>(text);

    /// <inheritdoc />
    public override string ToString() => _value ?? string.Empty;
}
