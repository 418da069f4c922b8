using Spectre.Console;

namespace Traceability.Terminal.Commands;

/// <summary>Writes tables; an empty one is left out.</summary>
internal static class Tables
{
    public static void Write(TerminalContext context, string[] columns, IEnumerable<string[]> rows)
    {
        var table = new Table().AddColumns(columns);
        foreach (var row in rows)
        {
            table.AddRow(row.Select(Markup.Escape).ToArray());
        }

        if (table.Rows.Count > 0)
        {
            context.Screen.Write(table);
        }
    }
}
