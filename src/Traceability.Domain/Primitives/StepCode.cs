using System.Text.Json.Serialization;

namespace Traceability.Domain.Primitives;

/// <summary>Identifies a step among the steps of its item's routings.</summary>
[JsonConverter(typeof(CodeJsonConverter<StepCode>))]
public readonly record struct StepCode : ICode<StepCode>
{
    private readonly string? _value;

    private StepCode(string value) => _value = value;

    /// <inheritdoc />
    public static int LengthMax => 30;

    /// <inheritdoc />
    public static string Name => "step code";

    /// <inheritdoc />
    public string Value => _value ?? throw new InvalidOperationException("A default StepCode has no value.");

    /// <inheritdoc />
    public static StepCode Wrap(string text) => new(text);

    /// <summary>Reads the text, or throws <see cref="FormatException"/>.</summary>
    public static StepCode Parse(string text) => Codes.Parse<StepCode>(text);

    /// <inheritdoc />
    public override string ToString() => _value ?? string.Empty;
}
