using System.Text.Json.Serialization;

namespace Traceability.Domain.Primitives;

/// <summary>Identifies a station.</summary>
[JsonConverter(typeof(CodeJsonConverter<StationCode>))]
public readonly record struct StationCode : ICode<StationCode>
{
    private readonly string? _value;

    private StationCode(string value) => _value = value;

    /// <inheritdoc />
    public static int LengthMax => 30;

    /// <inheritdoc />
    public static string Name => "station code";

    /// <inheritdoc />
    public string Value => _value ?? throw new InvalidOperationException("A default StationCode has no value.");

    /// <inheritdoc />
    public static StationCode Wrap(string text) => new(text);

    /// <summary>Reads the text, or throws <see cref="FormatException"/>.</summary>
    public static StationCode Parse(string text) => Codes.Parse<StationCode>(text);

    /// <inheritdoc />
    public override string ToString() => _value ?? string.Empty;
}
