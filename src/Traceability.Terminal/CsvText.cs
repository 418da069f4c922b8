using System.Globalization;
using System.Text;

namespace Traceability.Terminal;

/// <summary>Writes rows as CSV (RFC 4180, UTF-8), for people who go on in a spreadsheet.</summary>
internal sealed class CsvText
{
    private readonly StringBuilder text = new();

    /// <summary>Adds a row.</summary>
    public void Add(params ReadOnlySpan<string?> cells)
    {
        for (var i = 0; i < cells.Length; i++)
        {
            text.Append(i == 0 ? string.Empty : ",").Append(Cell(cells[i]));
        }

        text.Append("\r\n");
    }

    /// <summary>A time as UTC, to the second: a column of them sorts.</summary>
    public static string? Time(DateTimeOffset? at) => at?.UtcDateTime.ToString("yyyy-MM-dd HH:mm:ss'Z'", CultureInfo.InvariantCulture);

    public byte[] ToBytes() => Encoding.UTF8.GetBytes(text.ToString());

    // A cell that a spreadsheet would take for a formula gets an apostrophe before it, which shows it as text.
    private static string Cell(string? cell)
    {
        if (string.IsNullOrEmpty(cell))
        {
            return string.Empty;
        }

        var shown = cell[0] is '=' or '+' or '-' or '@' or '\t' or '\r' ? $"'{cell}" : cell;
        return shown.AsSpan().ContainsAny(",\"\r\n") ? $"\"{shown.Replace("\"", "\"\"", StringComparison.Ordinal)}\"" : shown;
    }
}
