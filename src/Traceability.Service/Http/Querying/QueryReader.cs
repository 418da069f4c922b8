using System.Globalization;
using Microsoft.Extensions.Primitives;
using Traceability.Domain.Primitives;

namespace Traceability.Service.Http.Querying;

/// <summary>Reads the query of a request and gathers everything that is wrong with it, so that one answer names every fault.</summary>
/// <remarks>
/// A parameter is known once it was read: <see cref="Finish"/> comes after all reads. A value that is wrong reads as if it
/// were not there. For one request, on one thread.
/// </remarks>
internal sealed class QueryReader(IQueryCollection query)
{
    /// <summary>The code of the refusal.</summary>
    public const string Invalid = "query-invalid";

    private static readonly string[] TimeForms = ["yyyy-MM-dd'T'HH:mm:ss.FFFFFFF'Z'", "yyyy-MM-dd'T'HH:mm:ss.FFFFFFFzzz"];

    private readonly List<string> _known = [];
    private readonly List<Fault> _faults = [];

    /// <summary>A code such as a station's; null if not given.</summary>
    public T? Code<T>(string name)
        where T : struct, ICode<T>
    {
        if (Read(name) is not { } text)
        {
            return null;
        }

        if (Codes.TryParse<T>(text, out var code))
        {
            return code;
        }

        Note(name, $"'{Shown(text)}' does not have the form. {Codes.Form<T>()}.");
        return null;
    }

    /// <summary>A code that must be given; a default one while there is a fault.</summary>
    public T RequiredCode<T>(string name)
        where T : struct, ICode<T>
    {
        var code = Code<T>(name);
        if (code is null && !_faults.Exists(f => string.Equals(f.Pointer, name, StringComparison.Ordinal)))
        {
            Note(name, $"is required. {Codes.Form<T>()}.");
        }

        return code ?? default;
    }

    /// <summary>A calendar day, such as 2026-03-01; null if not given.</summary>
    public DateOnly? Day(string name)
    {
        if (Read(name) is not { } text)
        {
            return null;
        }

        if (DateOnly.TryParseExact(text, "yyyy-MM-dd", CultureInfo.InvariantCulture, DateTimeStyles.None, out var day) && day.Year is >= 1900 and < 3000)
        {
            return day;
        }

        Note(name, $"'{Shown(text)}' is not a day. Write year, month and day, such as 2026-03-01; years 1900 to 2999.");
        return null;
    }

    /// <summary>A moment, RFC 3339 with offset; null if not given.</summary>
    public DateTimeOffset? Time(string name)
    {
        if (Read(name) is not { } text)
        {
            return null;
        }

        if (DateTimeOffset.TryParseExact(text, TimeForms, CultureInfo.InvariantCulture, DateTimeStyles.AssumeUniversal, out var at)
            && at.UtcDateTime.Year is >= 1900 and < 3000)
        {
            return at.ToUniversalTime();
        }

        Note(
            name,
            text.Contains(' ', StringComparison.Ordinal)
                ? $"'{Shown(text)}' is not a time. In a query, a + is written %2B."
                : $"'{Shown(text)}' is not a time. Write RFC 3339 with offset, such as 2026-03-01T07:30:00Z; years 1900 to 2999.");
        return null;
    }

    /// <summary>A whole number; the default if not given.</summary>
    public int Integer(string name, int least, int most, int otherwise)
    {
        if (Read(name) is not { } text)
        {
            return otherwise;
        }

        if (int.TryParse(text, NumberStyles.AllowLeadingSign, CultureInfo.InvariantCulture, out var number) && number >= least && number <= most)
        {
            return number;
        }

        Note(name, string.Create(CultureInfo.InvariantCulture, $"'{Shown(text)}' is not a whole number from {least} to {most}."));
        return otherwise;
    }

    /// <summary>true or false; false if not given.</summary>
    public bool Flag(string name)
    {
        switch (Read(name))
        {
            case null or "false":
                return false;
            case "true":
                return true;
            case { } text:
                Note(name, $"'{Shown(text)}' is neither true nor false.");
                return false;
        }
    }

    /// <summary>A text of a form of its own; null if not given.</summary>
    /// <param name="name">The parameter.</param>
    /// <param name="parse">Gives null for a text that does not have the form.</param>
    /// <param name="form">The form, in a sentence.</param>
    public T? Text<T>(string name, Func<string, T?> parse, string form)
        where T : class
    {
        if (Read(name) is not { } text)
        {
            return null;
        }

        if (parse(text) is { } value)
        {
            return value;
        }

        Note(name, $"'{Shown(text)}' does not have the form. {form}");
        return null;
    }

    /// <summary>Names out of a list, separated by commas, in the order given; null if not given.</summary>
    public ImmutableArray<string>? Names(string name, ImmutableArray<string> allowed)
    {
        if (Read(name) is not { } text)
        {
            return null;
        }

        var names = ImmutableArray.CreateBuilder<string>();
        foreach (var part in text.Split(',', StringSplitOptions.TrimEntries))
        {
            if (!allowed.Contains(part, StringComparer.Ordinal))
            {
                Note(name, $"'{Shown(part)}' is none of {string.Join(", ", allowed)}.");
            }
            else if (names.Contains(part, StringComparer.Ordinal))
            {
                Note(name, $"'{part}' is given twice.");
            }
            else
            {
                names.Add(part);
            }
        }

        return names.ToImmutable();
    }

    /// <summary>Notes a fault that several values make together.</summary>
    public void Note(string name, string detail) => _faults.Add(new(name, detail));

    /// <summary>The refusal that names every fault, parameters that nothing reads included; null if there is none.</summary>
    public Refusal? Finish()
    {
        foreach (var name in query.Keys.Where(k => !_known.Contains(k, StringComparer.OrdinalIgnoreCase)))
        {
            Note(name, $"is not a parameter here. Known are {string.Join(", ", _known)}.");
        }

        return _faults.Count == 0
            ? null
            : new(Invalid, RefusalKind.Malformed, "The question can't be read; errors names every parameter at fault.", [.. _faults]);
    }

    private static string Shown(string text) => text.Length <= 60 ? text : text[..60] + "…";

    private string? Read(string name)
    {
        _known.Add(name);
        if (!query.TryGetValue(name, out var values))
        {
            return null;
        }

        if (values.Count != 1)
        {
            Note(name, "is given more than once.");
            return null;
        }

        // A parameter without a value is more likely a mistake than a wish for everything.
        if (StringValues.IsNullOrEmpty(values))
        {
            Note(name, "has no value. Give one, or leave the parameter out.");
            return null;
        }

        return values[0];
    }
}
