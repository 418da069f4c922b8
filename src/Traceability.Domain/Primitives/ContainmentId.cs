using System.Text.Json.Serialization;

namespace Traceability.Domain.Primitives;

/// <summary>Names a containment: the number of the case, as the firm files it. A hold that it places bears the same name.</summary>
[JsonConverter(typeof(CodeJsonConverter<ContainmentId>))]
public readonly record struct ContainmentId : ICode<ContainmentId>
{
    private readonly string? _value;

    private ContainmentId(string value) => _value = value;

    /// <inheritdoc />
    public static int LengthMax => Code.LengthMax;

    /// <inheritdoc />
    public static string Name => "containment";

    /// <inheritdoc />
    public string Value => _value ?? throw new InvalidOperationException("A default ContainmentId has no value.");

    /// <summary>The name of the holds that it places.</summary>
    [JsonIgnore]
    public Code Hold => Code.Wrap(Value);

    /// <inheritdoc />
    public static ContainmentId Wrap(string text) => new(text);

    /// <summary>Reads the text, or throws <see cref="FormatException"/>.</summary>
    public static ContainmentId Parse(string text) => Codes.Parse<ContainmentId>(text);

    /// <inheritdoc />
    public override string ToString() => _value ?? string.Empty;
}
