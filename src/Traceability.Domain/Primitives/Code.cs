using System.Text.Json.Serialization;

namespace Traceability.Domain.Primitives;

/// <summary>Names a part of a definition: a characteristic, a requirement, a position, a rule, an option, a qualification, a tool class, a clutch setting, a defect.</summary>
[JsonConverter(typeof(CodeJsonConverter<Code>))]
public readonly record struct Code : ICode<Code>
{
    private readonly string? _value;

    private Code(string value) => _value = value;

    /// <inheritdoc />
    public static int LengthMax => 40;

    /// <inheritdoc />
    public static string Name => "code";

    /// <inheritdoc />
    public string Value => _value ?? throw new InvalidOperationException("A default Code has no value.");

    /// <inheritdoc />
    public static Code Wrap(string text) => new(text);

    /// <summary>Reads the text, or throws <see cref="FormatException"/>.</summary>
    public static Code Parse(string text) => Codes.Parse<Code>(text);

    /// <inheritdoc />
    public override string ToString() => _value ?? string.Empty;
}
