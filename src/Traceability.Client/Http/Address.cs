using System.Globalization;
using System.Text;

namespace Traceability.Client.Http;

/// <summary>Builds addresses: every part is escaped, what isn't given is left out.</summary>
internal static class Address
{
    /// <summary>The parts of a path under /api.</summary>
    public static string Of(params ReadOnlySpan<string> parts)
    {
        var path = new StringBuilder("api");
        foreach (var part in parts)
        {
            ArgumentException.ThrowIfNullOrEmpty(part, nameof(parts));
            path.Append('/').Append(Uri.EscapeDataString(part));
        }

        return path.ToString();
    }

    /// <summary>The path with those parameters that have a value.</summary>
    public static string With(string path, params ReadOnlySpan<(string Name, object? Value)> parameters)
    {
        var address = new StringBuilder(path);
        var separator = '?';
        foreach (var (name, value) in parameters)
        {
            var text = value switch
            {
                null or false => null,
                true => "true",
                DateTimeOffset at => at.ToString("O", CultureInfo.InvariantCulture),
                DateOnly day => day.ToString("yyyy-MM-dd", CultureInfo.InvariantCulture),
                IReadOnlyList<string> { Count: 0 } => null,
                IReadOnlyList<string> list => string.Join(',', list),
                IFormattable number => number.ToString(null, CultureInfo.InvariantCulture),
                _ => value.ToString(),
            };
            if (text is not null)
            {
                address.Append(separator).Append(name).Append('=').Append(Uri.EscapeDataString(text));
                separator = '&';
            }
        }

        return address.ToString();
    }
}
