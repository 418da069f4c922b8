using System.Text.Json.Serialization;

namespace Traceability.Domain.Primitives;

/// <summary>Identifies a revision of a routing.</summary>
[JsonConverter(typeof(CodeJsonConverter<RevisionCode>))]
public readonly record struct RevisionCode : ICode<RevisionCode>
{
    private readonly string? _value;

    private RevisionCode(string value) => _value = value;

    /// <inheritdoc />
    public static int LengthMax => 12;

    /// <inheritdoc />
    public static string Name => "revision";

    /// <inheritdoc />
    public string Value => _value ?? throw new InvalidOperationException("A default RevisionCode has no value.");

    /// <inheritdoc />
    public static RevisionCode Wrap(string text) => new(text);

    /// <summary>Reads the text, or throws <see cref="FormatException"/>.</summary>
    public static RevisionCode Parse(string text) => Codes.Parse<RevisionCode>(text);

    /// <inheritdoc />
    public override string ToString() => _value ?? string.Empty;
}
