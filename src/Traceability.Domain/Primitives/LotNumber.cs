using System.Text.Json.Serialization;

namespace Traceability.Domain.Primitives;

/// <summary>Identifies one lot among the lots of its item.</summary>
/// <remarks>Twenty is the longest batch or lot number of GS1 application identifier (10): GS1 General Specifications, section 3.4.1.</remarks>
[JsonConverter(typeof(CodeJsonConverter<LotNumber>))]
public readonly record struct LotNumber : ICode<LotNumber>
{
    private readonly string? _value;

    private LotNumber(string value) => _value = value;

    /// <inheritdoc />
    public static int LengthMax => 20;

    /// <inheritdoc />
    public static string Name => "lot number";

    /// <inheritdoc />
    public string Value => _value ?? throw new InvalidOperationException("A default LotNumber has no value.");

    /// <inheritdoc />
    public static LotNumber Wrap(string text) => new(text);

    /// <summary>Reads the text, or throws <see cref="FormatException"/>.</summary>
    public static LotNumber Parse(string text) => Codes.Parse<LotNumber>(text);

    /// <inheritdoc />
    public override string ToString() => _value ?? string.Empty;
}
