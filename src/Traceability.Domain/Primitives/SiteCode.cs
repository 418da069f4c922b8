using System.Text.Json.Serialization;

namespace Traceability.Domain.Primitives;

/// <summary>Identifies a site.</summary>
[JsonConverter(typeof(CodeJsonConverter<SiteCode>))]
public readonly record struct SiteCode : ICode<SiteCode>
{
    private readonly string? _value;

    private SiteCode(string value) => _value = value;

    /// <inheritdoc />
    public static int LengthMax => 30;

    /// <inheritdoc />
    public static string Name => "site code";

    /// <inheritdoc />
    public string Value => _value ?? throw new InvalidOperationException("A default SiteCode has no value.");

    /// <inheritdoc />
    public static SiteCode Wrap(string text) => new(text);

    /// <summary>Reads the text, or throws <see cref="FormatException"/>.</summary>
    public static SiteCode Parse(string text) => Codes.Parse<SiteCode>(text);

    /// <inheritdoc />
    public override string ToString() => _value ?? string.Empty;
}
