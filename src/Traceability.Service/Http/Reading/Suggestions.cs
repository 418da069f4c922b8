namespace Traceability.Service.Http.Reading;

/// <summary>Guesses which of the allowed names was meant.</summary>
internal static class Suggestions
{
    private const int NameLengthMax = 40;

    /// <summary>The allowed name that is nearest to what was sent, if it is near enough to be worth saying.</summary>
    public static string? Nearest(string sent, IEnumerable<string> allowed)
    {
        if (sent.Length is 0 or > NameLengthMax)
        {
            return null;
        }

        var plain = Plain(sent);
        string? best = null;
        var bestDistance = Math.Max(1, plain.Length / 3) + 1;
        foreach (var name in allowed)
        {
            var distance = Distance(plain, Plain(name));
            if (distance < bestDistance)
            {
                best = name;
                bestDistance = distance;
            }
        }

        return best;
    }

    /// <summary>" Did you mean 'x'?" or nothing.</summary>
    public static string Hint(string sent, IEnumerable<string> allowed) =>
        Nearest(sent, allowed) is { } name ? $" Did you mean '{name}'?" : string.Empty;

    private static string Plain(string name) =>
        name.Replace("_", string.Empty, StringComparison.Ordinal).Replace("-", string.Empty, StringComparison.Ordinal).ToLowerInvariant();

    // The number of letters to insert, remove or replace (Levenshtein), in one row.
    private static int Distance(string a, string b)
    {
        var row = new int[b.Length + 1];
        for (var j = 0; j < row.Length; j++)
        {
            row[j] = j;
        }

        for (var i = 1; i <= a.Length; i++)
        {
            var diagonal = row[0];
            row[0] = i;
            for (var j = 1; j <= b.Length; j++)
            {
                var replaced = diagonal + (a[i - 1] == b[j - 1] ? 0 : 1);
                diagonal = row[j];
                row[j] = Math.Min(replaced, Math.Min(row[j], row[j - 1]) + 1);
            }
        }

        return row[b.Length];
    }
}
