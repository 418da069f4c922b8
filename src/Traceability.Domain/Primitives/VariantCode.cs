using System.Text.Json.Serialization;

namespace Traceability.Domain.Primitives;

/// <summary>Identifies a variant of an item.</summary>
[JsonConverter(typeof(CodeJsonConverter<VariantCode>))]
public readonly record struct VariantCode : ICode<VariantCode>
{
    private readonly string? _value;

    private VariantCode(string value) => _value = value;

    /// <inheritdoc />
    public static int LengthMax => 30;

    /// <inheritdoc />
    public static string Name => "variant";

    /// <inheritdoc />
    public string Value => _value ?? throw new InvalidOperationException("A default VariantCode has no value.");

    /// <inheritdoc />
    public static VariantCode Wrap(string text) => new(text);

    /// <summary>Reads the text, or throws <see cref="FormatException"/>.</summary>
    public static VariantCode Parse(string text) => Codes.Parse<VariantCode>(text);

    /// <inheritdoc />
    public override string ToString() => _value ?? string.Empty;
}
