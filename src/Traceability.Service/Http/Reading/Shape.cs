using System.Text;
using System.Text.Json;

namespace Traceability.Service.Http.Reading;

/// <summary>The members that an object may have.</summary>
internal sealed class Shape
{
    private readonly string[] _names;
    private readonly byte[][] _utf8;

    /// <summary>A shape with these members; list them in the usual order of sending, which is looked for first.</summary>
    public Shape(params string[] names)
    {
        _names = names;
        _utf8 = [.. names.Select(Encoding.UTF8.GetBytes)];
    }

    /// <summary>How many members it may have.</summary>
    public int Count => _names.Length;

    /// <summary>The names.</summary>
    public IReadOnlyList<string> Names => _names;

    /// <summary>This shape with more members in front.</summary>
    public Shape Behind(Shape first) => new([.. first._names, .. _names]);

    /// <summary>The place of a member that the caller knows to be listed.</summary>
    public int IndexOf(string name)
    {
        for (var i = 0; i < _names.Length; i++)
        {
            if (ReferenceEquals(_names[i], name) || string.Equals(_names[i], name, StringComparison.Ordinal))
            {
                return i;
            }
        }

        throw new ArgumentException($"The shape has no member '{name}'.", nameof(name));
    }

    /// <summary>Whether a member has this name; one whose name is not valid Unicode has none.</summary>
    public static bool Is(JsonProperty sent, ReadOnlySpan<byte> name)
    {
        try
        {
            return sent.NameEquals(name);
        }
        catch (InvalidOperationException)
        {
            return false;
        }
    }

    /// <summary>The place of a member that was sent, or -1; <paramref name="hint"/> is tried first.</summary>
    public int Match(JsonProperty sent, int hint)
    {
        if (hint < _utf8.Length && Is(sent, _utf8[hint]))
        {
            return hint;
        }

        for (var i = 0; i < _utf8.Length; i++)
        {
            if (i != hint && Is(sent, _utf8[i]))
            {
                return i;
            }
        }

        return -1;
    }
}
