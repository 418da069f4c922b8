using System.Text.Json.Serialization;

namespace Traceability.Domain.Primitives;

/// <summary>Identifies an item (a part number).</summary>
[JsonConverter(typeof(CodeJsonConverter<ItemNumber>))]
public readonly record struct ItemNumber : ICode<ItemNumber>
{
    private readonly string? _value;

    private ItemNumber(string value) => _value = value;

    /// <inheritdoc />
    public static int LengthMax => 30;

    /// <inheritdoc />
    public static string Name => "item number";

    /// <inheritdoc />
    public string Value => _value ?? throw new InvalidOperationException("A default ItemNumber has no value.");

    /// <inheritdoc />
    public static ItemNumber Wrap(string text) => new(text);

    /// <summary>Reads the text, or throws <see cref="FormatException"/>.</summary>
    public static ItemNumber Parse(string text) => Codes.Parse<ItemNumber>(text);

    /// <inheritdoc />
    public override string ToString() => _value ?? string.Empty;
}
