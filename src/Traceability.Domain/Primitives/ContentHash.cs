using System.Text.Json.Serialization;

namespace Traceability.Domain.Primitives;

/// <summary>Names a stored file by its content: SHA-256 (FIPS 180-4) as 64 hexadecimal digits in small letters.</summary>
[JsonConverter(typeof(CodeJsonConverter<ContentHash>))]
public readonly record struct ContentHash : ICode<ContentHash>
{
    private readonly string? _value;

    private ContentHash(string value) => _value = value;

    /// <inheritdoc />
    public static int LengthMax => 64;

    /// <inheritdoc />
    public static string Name => "content hash";

    /// <inheritdoc />
    public string Value => _value ?? throw new InvalidOperationException("A default ContentHash has no value.");

    /// <summary>Whether it is the text of a hash, and not merely a code.</summary>
    public bool IsHash => _value is { Length: 64 } text && text.All(char.IsAsciiHexDigit);

    /// <inheritdoc />
    public static ContentHash Wrap(string text)
    {
        ArgumentNullException.ThrowIfNull(text);
        return new(text.ToLowerInvariant());
    }

    /// <summary>The name of a content whose SHA-256 this is.</summary>
    public static ContentHash Of(ReadOnlySpan<byte> sha256) => new(Convert.ToHexStringLower(sha256));

    /// <summary>Reads the text, or throws <see cref="FormatException"/>.</summary>
    public static ContentHash Parse(string text) => Codes.Parse<ContentHash>(text);

    /// <inheritdoc />
    public override string ToString() => _value ?? string.Empty;
}
