using System.Text;

namespace Traceability.Service.Features.Containments.Report;

/// <summary>Writes the members of a case as CSV (RFC 4180, UTF-8), for people who go on in a spreadsheet.</summary>
/// <remarks>
/// A cell that a spreadsheet would take for a formula, since it begins with = + - @, a tab or a carriage return, gets an apostrophe
/// before it, which shows it as text.
/// </remarks>
internal static class CsvReport
{
    private static readonly ImmutableArray<string> Columns =
    [
        "item", "serial", "verdict", "reason", "evidence", "run", "foundAt", "placeFound", "late", "acknowledged", "placeNow", "insideItem", "insideSerial", "consignee",
        "shippedAt", "orderReference", "holds", "heldAt", "liftedAt", "outcome", "final", "outcomeAt", "outcomeBy", "note", "outcomeEvidence",
    ];

    /// <summary>The file, as UTF-8.</summary>
    public static byte[] Write(CaseContent content)
    {
        var shipped = content.Consignees.SelectMany(c => c.Members).ToDictionary(m => CaseReport.Unit(m.Unit), StringComparer.Ordinal);
        var file = new StringBuilder(4_096);
        Append(file, Columns.AsSpan());
        foreach (var m in content.Members)
        {
            var shipment = shipped.GetValueOrDefault(CaseReport.Unit(m.Unit));
            Append(file,
            [
                m.Unit.Item, m.Unit.Serial, m.Verdict, m.Why, m.Evidence?.ToString(), FormattableString.Invariant($"{m.Run}"), Time(m.FoundAt), m.PlaceFound, Flag(m.IsLate), Flag(m.IsAcknowledged),
                m.Now.Place, m.Now.Inside?.Item, m.Now.Inside?.Serial, m.Now.Consignee, Time(shipment?.ShippedAt), shipment?.OrderReference, string.Join(' ', m.Holds), Time(m.HeldAt), Time(m.LiftedAt),
                m.Outcome?.Outcome, m.Outcome is { } o ? Flag(o.IsFinal) : null, Time(m.Outcome?.At), m.Outcome?.Person, m.Outcome?.Note, m.Outcome is { } last ? string.Join(' ', last.Evidence) : null,
            ]);
        }

        return Encoding.UTF8.GetBytes(file.ToString());
    }

    /// <summary>One cell.</summary>
    public static string Cell(string? text)
    {
        if (string.IsNullOrEmpty(text))
        {
            return string.Empty;
        }

        var shown = text[0] is '=' or '+' or '-' or '@' or '\t' or '\r' ? $"'{text}" : text;
        return shown.AsSpan().ContainsAny(",\"\r\n") ? $"\"{shown.Replace("\"", "\"\"", StringComparison.Ordinal)}\"" : shown;
    }

    private static void Append(StringBuilder file, ReadOnlySpan<string?> cells)
    {
        for (var i = 0; i < cells.Length; i++)
        {
            file.Append(i == 0 ? string.Empty : ",").Append(Cell(cells[i]));
        }

        file.Append("\r\n");
    }

    private static string Time(DateTimeOffset? at) => CaseReport.Time(at);

    private static string Flag(bool flag) => flag ? "yes" : "no";
}
