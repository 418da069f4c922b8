using System.Text.Json.Serialization;

namespace Traceability.Domain.Primitives;

/// <summary>Identifies one unit among the units of its item.</summary>
/// <remarks>Twenty is the longest serial number of GS1 application identifier (21): GS1 General Specifications, section 3.5.2.</remarks>
[JsonConverter(typeof(CodeJsonConverter<SerialNumber>))]
public readonly record struct SerialNumber : ICode<SerialNumber>
{
    private readonly string? _value;

    private SerialNumber(string value) => _value = value;

    /// <inheritdoc />
    public static int LengthMax => 20;

    /// <inheritdoc />
    public static string Name => "serial number";

    /// <inheritdoc />
    public string Value => _value ?? throw new InvalidOperationException("A default SerialNumber has no value.");

    /// <inheritdoc />
    public static SerialNumber Wrap(string text) => new(text);

    /// <summary>Reads the text, or throws <see cref="FormatException"/>.</summary>
    public static SerialNumber Parse(string text) => Codes.Parse<SerialNumber>(text);

    /// <inheritdoc />
    public override string ToString() => _value ?? string.Empty;
}
