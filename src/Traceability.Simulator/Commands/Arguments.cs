using System.Globalization;

namespace Traceability.Simulator.Commands;

/// <summary>What was typed is not understood; the message is for the person who typed it.</summary>
public sealed class ArgumentsException(string message) : Exception(message);

/// <summary>The options of a command: --name value pairs, each known by its command.</summary>
public sealed class Arguments
{
    /// <summary>Name of the environment variable that may hold the access key.</summary>
    public const string KeyVariable = "TRACEABILITY_KEY";

    private readonly Dictionary<string, string> _values = new(StringComparer.Ordinal);

    private Arguments()
    {
    }

    /// <summary>Reads the pairs; a name that the command doesn't know is an error, as is one without value or given twice.</summary>
    public static Arguments Read(IReadOnlyList<string> words, params string[] known)
    {
        ArgumentNullException.ThrowIfNull(words);
        var result = new Arguments();
        for (var i = 0; i < words.Count; i += 2)
        {
            var name = words[i].StartsWith("--", StringComparison.Ordinal) ? words[i][2..] : words[i];
            if (!known.Contains(name) || name == words[i])
            {
                throw new ArgumentsException($"'{words[i]}' is not an option here. Options: {string.Join(", ", known.Select(k => "--" + k))}.");
            }

            if (i + 1 == words.Count)
            {
                throw new ArgumentsException($"--{name} needs a value.");
            }

            if (!result._values.TryAdd(name, words[i + 1]))
            {
                throw new ArgumentsException($"--{name} is given twice.");
            }
        }

        return result;
    }

    /// <summary>A text that must be given.</summary>
    public string Required(string name) =>
        _values.GetValueOrDefault(name) ?? throw new ArgumentsException($"--{name} is missing.");

    /// <summary>The access key: the option, or the environment's, which other users of the machine can't see in the list of processes.</summary>
    public string Key() =>
        _values.GetValueOrDefault("key") ?? Environment.GetEnvironmentVariable(KeyVariable)
        ?? throw new ArgumentsException($"No key: set {KeyVariable} in the environment, or give --key.");

    /// <summary>A whole number within bounds.</summary>
    public int Int(string name, int otherwise, int least, int most)
    {
        if (!_values.TryGetValue(name, out var text))
        {
            return otherwise;
        }

        return int.TryParse(text, NumberStyles.None, CultureInfo.InvariantCulture, out var value) && value >= least && value <= most
            ? value
            : throw new ArgumentsException($"--{name} is a whole number from {least} to {most}, not '{text}'.");
    }

    /// <summary>A seed.</summary>
    public ulong Seed(string name, ulong otherwise)
    {
        if (!_values.TryGetValue(name, out var text))
        {
            return otherwise;
        }

        return ulong.TryParse(text, NumberStyles.None, CultureInfo.InvariantCulture, out var value)
            ? value
            : throw new ArgumentsException($"--{name} is a whole number from 0 on, not '{text}'.");
    }

    /// <summary>A time with offset; null if it isn't given.</summary>
    public DateTimeOffset? Time(string name)
    {
        if (!_values.TryGetValue(name, out var text))
        {
            return null;
        }

        var hasOffset = text.EndsWith('Z') || (text.Length > 6 && text[^6] is '+' or '-');
        return hasOffset && DateTimeOffset.TryParse(text, CultureInfo.InvariantCulture, DateTimeStyles.None, out var time)
            ? time
            : throw new ArgumentsException($"--{name} is a time with offset, such as 2026-03-02T09:30:00+01:00, not '{text}'.");
    }

    /// <summary>The service's address.</summary>
    public Uri Url(string name)
    {
        var text = Required(name);
        return Uri.TryCreate(text.TrimEnd('/') + "/", UriKind.Absolute, out var url) && url.Scheme is "http" or "https"
            ? url
            : throw new ArgumentsException($"--{name} is an http address, such as http://127.0.0.1:5080, not '{text}'.");
    }
}
