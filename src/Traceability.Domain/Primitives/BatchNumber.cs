using System.Text.Json.Serialization;

namespace Traceability.Domain.Primitives;

/// <summary>Identifies one batch of parts without serials among the batches of its item.</summary>
/// <remarks>As long as a lot number may be: common practice, no source.</remarks>
[JsonConverter(typeof(CodeJsonConverter<BatchNumber>))]
public readonly record struct BatchNumber : ICode<BatchNumber>
{
    private readonly string? _value;

    private BatchNumber(string value) => _value = value;

    /// <inheritdoc />
    public static int LengthMax => 20;

    /// <inheritdoc />
    public static string Name => "batch number";

    /// <inheritdoc />
    public string Value => _value ?? throw new InvalidOperationException("A default BatchNumber has no value.");

    /// <inheritdoc />
    public static BatchNumber Wrap(string text) => new(text);

    /// <summary>Reads the text, or throws <see cref="FormatException"/>.</summary>
    public static BatchNumber Parse(string text) => Codes.Parse<BatchNumber>(text);

    /// <inheritdoc />
    public override string ToString() => _value ?? string.Empty;
}
