using System.Text.Json.Serialization;

namespace Traceability.Domain.Primitives;

/// <summary>Identifies a person by a code of the firm's own, not by name.</summary>
[JsonConverter(typeof(CodeJsonConverter<PersonCode>))]
public readonly record struct PersonCode : ICode<PersonCode>
{
    private readonly string? _value;

    private PersonCode(string value) => _value = value;

    /// <inheritdoc />
    public static int LengthMax => 30;

    /// <inheritdoc />
    public static string Name => "person code";

    /// <inheritdoc />
    public string Value => _value ?? throw new InvalidOperationException("A default PersonCode has no value.");

    /// <inheritdoc />
    public static PersonCode Wrap(string text) => new(text);

    /// <summary>Reads the text, or throws <see cref="FormatException"/>.</summary>
    public static PersonCode Parse(string text) => Codes.Parse<PersonCode>(text);

    /// <inheritdoc />
    public override string ToString() => _value ?? string.Empty;
}
