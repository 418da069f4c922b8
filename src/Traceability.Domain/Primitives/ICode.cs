using System.Diagnostics.CodeAnalysis;
using System.Text;
using CommunityToolkit.HighPerformance.Buffers;

namespace Traceability.Domain.Primitives;

/// <summary>A short text that identifies something and is marked, printed or scanned as it stands.</summary>
/// <typeparam name="TSelf">The code's own type, so that a station can't be passed for a person.</typeparam>
public interface ICode<TSelf>
    where TSelf : struct, ICode<TSelf>
{
    /// <summary>The most characters that the code may have.</summary>
    static abstract int LengthMax { get; }

    /// <summary>What the code is called in a message: "serial number", "station".</summary>
    static abstract string Name { get; }

    /// <summary>The text as marked or scanned.</summary>
    string Value { get; }

    /// <summary>Wraps a text whose form has been checked.</summary>
    static abstract TSelf Wrap(string text);
}

/// <summary>The one parser of every <see cref="ICode{TSelf}"/>.</summary>
/// <remarks>
/// Allowed are A-Z, a-z, 0-9 and . _ + -, a subset of GS1's character set 82 that needs no escaping in a URL path,
/// a file name or a bar code. Source of the set: GS1 General Specifications, section 7.11.
/// </remarks>
public static class Codes
{
    // The facts of a line name the same few stations, people, steps and parts again and again: with a text of its own for each name,
    // texts were half of the objects in the memory of units.
    private static readonly StringPool Met = new(8_192);

    /// <summary>Reads the text; false if it does not have the form.</summary>
    public static bool TryParse<T>([NotNullWhen(true)] string? text, out T code)
        where T : struct, ICode<T>
    {
        var valid = text is { Length: > 0 } && text.Length <= T.LengthMax && IsWellFormed(text);
        code = valid ? T.Wrap(text!) : default;
        return valid;
    }

    /// <summary>Reads UTF-8; false if it does not have the form. The same code is the same string as before, as far as it was met lately.</summary>
    public static bool TryParse<T>(ReadOnlySpan<byte> utf8, out T code)
        where T : struct, ICode<T>
    {
        Span<char> text = stackalloc char[T.LengthMax];
        var valid = Ascii.ToUtf16(utf8, text, out var length) == System.Buffers.OperationStatus.Done && length > 0 && IsWellFormed(text[..length]);
        code = valid ? T.Wrap(Met.GetOrAdd(text[..length])) : default;
        return valid;
    }

    /// <summary>Reads the text, or throws <see cref="FormatException"/>.</summary>
    public static T Parse<T>(string text)
        where T : struct, ICode<T> =>
        TryParse<T>(text, out var code) ? code : throw new FormatException($"'{text}' is not a {T.Name}. {Form<T>()}");

    /// <summary>Says the form in a sentence for a person.</summary>
    public static string Form<T>()
        where T : struct, ICode<T> =>
        $"{(T.Name[0] is 'a' or 'e' or 'i' or 'o' ? "An" : "A")} {T.Name} has 1 to {T.LengthMax} characters of A-Z, a-z, 0-9 and . _ + -";

    // "." and ".." would be rewritten as path segments by clients and proxies.
    private static bool IsWellFormed(ReadOnlySpan<char> text)
    {
        foreach (var c in text)
        {
            if (!char.IsAsciiLetterOrDigit(c) && c is not ('.' or '_' or '+' or '-'))
            {
                return false;
            }
        }

        return text is not ("." or "..");
    }
}
