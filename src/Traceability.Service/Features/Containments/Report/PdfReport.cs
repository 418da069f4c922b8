using System.Globalization;
using System.Text;
using UglyToad.PdfPig.Content;
using UglyToad.PdfPig.Core;
using UglyToad.PdfPig.Fonts.Standard14Fonts;
using UglyToad.PdfPig.Graphics.Operations.TextObjects;
using UglyToad.PdfPig.Graphics.Operations.TextPositioning;
using UglyToad.PdfPig.Graphics.Operations.TextShowing;
using UglyToad.PdfPig.Graphics.Operations.TextState;
using UglyToad.PdfPig.Tokens;
using UglyToad.PdfPig.Writer;

namespace Traceability.Service.Features.Containments.Report;

/// <summary>Writes a report as PDF, in lines of a fixed width, in the fonts that every reader has.</summary>
/// <remarks>
/// Those fonts have the characters of ASCII and little more. A character that they lack is written as its number, such as [U+4E2D]:
/// nothing is left out, and nothing is turned into something else. The HTML form shows it as it is.
/// </remarks>
internal sealed class PdfReport : IDisposable
{
    /// <summary>The most rows of one table. Beyond, the report says how many there are, and the CSV has them.</summary>
    public const int RowsMax = 5_000;

    private const double Left = 40;
    private const double PageNumberLeft = 495;
    private const double Top = 800;
    private const double Bottom = 45;
    private const double Size = 8;
    private const double LineHeight = 10.5;

    // A character of Courier is 600 thousandths of its size wide (Adobe Font Metrics): 515 points take 107.
    private const int LineLength = 107;

    private readonly PdfDocumentBuilder _builder = new();
    private readonly PdfDocumentBuilder.AddedFont _plain;
    private readonly PdfDocumentBuilder.AddedFont _bold;
    private readonly string _footer;
    private readonly List<PdfPageBuilder> _written = [];
    private PdfPageBuilder? _page;
    private NameToken? _plainName;
    private NameToken? _boldName;
    private double _y;
    private int _pages;

    private PdfReport(string foot)
    {
        _plain = _builder.AddStandard14Font(Standard14Font.Courier);
        _bold = _builder.AddStandard14Font(Standard14Font.CourierBold);
        _footer = Encodable(foot);
    }

    /// <summary>The file.</summary>
    public static byte[] Write(ReportDocument document)
    {
        using var report = new PdfReport(document.Foot ?? document.Title);
        report.Paragraph(document.Title, isBold: true);
        foreach (var warning in document.Warnings)
        {
            report.Gap();
            report.Paragraph(warning, isBold: true);
        }

        foreach (var section in document.Sections)
        {
            // A heading does not stand at the foot of a page.
            report.Gap();
            report.KeepTogether(4);
            report.Paragraph(section.Heading.ToUpperInvariant(), isBold: true);
            foreach (var paragraph in section.Paragraphs)
            {
                report.Paragraph(paragraph, isBold: false);
            }

            if (section.Table is { } table)
            {
                report.Table(table);
            }
        }

        report.NumberPages();
        return report._builder.Build();
    }

    /// <summary>The text with every character that the fonts lack as its number.</summary>
    public static string Encodable(string text)
    {
        var shown = new StringBuilder(text.Length);
        foreach (var rune in text.EnumerateRunes())
        {
            if (rune.Value is >= ' ' and <= '~')
            {
                shown.Append((char)rune.Value);
            }
            else if (Rune.IsWhiteSpace(rune))
            {
                shown.Append(' ');
            }
            else
            {
                shown.Append(CultureInfo.InvariantCulture, $"[U+{rune.Value:X4}]");
            }
        }

        return shown.ToString();
    }

    /// <inheritdoc />
    public void Dispose() => _builder.Dispose();

    // Each row as a block that is not torn by the end of a page: the first cell, then the others with the names of their columns.
    private void Table(ReportTable table)
    {
        if (table.Rows.Count > RowsMax)
        {
            Paragraph(FormattableString.Invariant($"{table.Rows.Count - RowsMax} more rows are not shown here, of {table.Rows.Count}. The CSV form lists all members."), isBold: true);
        }

        foreach (var row in table.Rows.Take(RowsMax))
        {
            var rest = string.Join(" | ", row.Select((cell, i) => (Cell: cell, Column: table.Columns[i])).Skip(1).Where(c => c.Cell.Length > 0).Select(c => $"{c.Column}: {c.Cell}"));
            KeepTogether(1 + Lines(Encodable($"  {rest}")).Count());
            Paragraph(row[0], isBold: true);
            if (rest.Length > 0)
            {
                Paragraph($"  {rest}", isBold: false);
            }
        }
    }

    // So many lines go onto the next page together if this one has no room for them; more than a page can hold begin where they are.
    private void KeepTogether(int lines)
    {
        if (_page is not null && _y < Top && _y - ((lines - 1) * LineHeight) < Bottom && lines * LineHeight < Top - Bottom)
        {
            BeginPage();
        }
    }

    private void NumberPages()
    {
        foreach (var page in _written)
        {
            page.AddText(FormattableString.Invariant($"of {_pages}"), Size, new PdfPoint(PageNumberLeft + (4 * Size), Bottom - (2 * LineHeight)), _plain);
        }
    }

    private void Paragraph(string text, bool isBold)
    {
        foreach (var line in Lines(Encodable(text)))
        {
            Line(line, isBold);
        }
    }

    private void Gap() => _y -= LineHeight;

    private void Line(string line, bool isBold)
    {
        if (_page is null || _y < Bottom)
        {
            BeginPage();
        }

        if (line.Trim().Length > 0)
        {
            // The library measures each character of the texts that it adds itself, which takes a second for a few hundred lines.
            _page!.CurrentStream.Operations.AddRange(
            [
                BeginText.Value,
                new SetFontAndSize(isBold ? _boldName! : _plainName!, Size),
                new SetTextMatrix([1, 0, 0, 1, Left, _y]),
                new ShowText(Encoding.ASCII.GetBytes(line)),
                EndText.Value,
            ]);
        }

        _y -= LineHeight;
    }

    // The foot brings both fonts to the page; its operations tell by which names.
    private void BeginPage()
    {
        _page = _builder.AddPage(PageSize.A4);
        _written.Add(_page);
        _pages++;
        _y = Top;
        var y = Bottom - (2 * LineHeight);
        _page.AddText(_footer.Length > 90 ? _footer[..90] : _footer, Size, new PdfPoint(Left, y), _plain);
        _plainName = LastFont(_page);
        _page.AddText(FormattableString.Invariant($"{_pages}"), Size, new PdfPoint(PageNumberLeft, y), _bold);
        _boldName = LastFont(_page);
    }

    private static NameToken LastFont(PdfPageBuilder page) => page.CurrentStream.Operations.OfType<SetFontAndSize>().Last().Font;

    // Broken at spaces, and within a word that is longer than a line; what follows the first line is set in.
    private static IEnumerable<string> Lines(string text)
    {
        var rest = text;
        while (rest.Length > LineLength)
        {
            var end = rest.LastIndexOf(' ', LineLength);
            if (end <= 8)
            {
                end = LineLength;
            }

            yield return rest[..end];
            rest = $"    {rest[end..].TrimStart()}";
        }

        yield return rest;
    }
}
