using System.Text.Json.Serialization;

namespace Traceability.Domain.Primitives;

/// <summary>Identifies one tube, bottle or bag among the containers of its lot.</summary>
[JsonConverter(typeof(CodeJsonConverter<ContainerNumber>))]
public readonly record struct ContainerNumber : ICode<ContainerNumber>
{
    private readonly string? _value;

    private ContainerNumber(string value) => _value = value;

    /// <inheritdoc />
    public static int LengthMax => 20;

    /// <inheritdoc />
    public static string Name => "container number";

    /// <inheritdoc />
    public string Value => _value ?? throw new InvalidOperationException("A default ContainerNumber has no value.");

    /// <inheritdoc />
    public static ContainerNumber Wrap(string text) => new(text);

    /// <summary>Reads the text, or throws <see cref="FormatException"/>.</summary>
    public static ContainerNumber Parse(string text) => Codes.Parse<ContainerNumber>(text);

    /// <inheritdoc />
    public override string ToString() => _value ?? string.Empty;
}
