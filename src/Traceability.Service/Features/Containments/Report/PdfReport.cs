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
/// Those fonts have the letters of western Europe (ISO 32000-1, annex D.2; the encoding is WinAnsiEncoding). A letter of central Europe that
/// they lack is written without its marks, such as c for č; any other character as its number, such as [U+4E2D]. Where either
/// happened, the document says so at its end. The HTML form shows everything as it is.
/// </remarks>
internal sealed class PdfReport : IDisposable
{
    /// <summary>The most rows of one table. Beyond, the report says how many there are, and the CSV has them.</summary>
    public const int RowsMax = 5_000;

    /// <summary>What the document says where a character had to be written otherwise.</summary>
    public const string Changed =
        "The fonts of this form have the letters of western Europe. Other letters are written here without their marks where they have a plain form, and other characters as their number in Unicode, such as [U+4E2D]; the HTML form shows them as they were entered.";

    private const double Left = 40;
    private const double PageNumberLeft = 495;
    private const double Top = 800;
    private const double Bottom = 45;
    private const double Size = 8;
    private const double LineHeight = 10.5;

    // A character of Courier is 600 thousandths of its size wide (Adobe Font Metrics): 515 points take 107.
    private const int LineLength = 107;

    // The letters of Latin Extended-A (U+0100 to U+017F) without their marks; '?' where there is no plain form.
    private const string Unmarked =
        "AaAaAaCcCcCcCcDdDdEeEeEeEeEeGgGgGgGgHhHhIiIiIiIiIi??JjKk?LlLlLlLlLlNnNnNn???OoOoOo??RrRrRrSsSsSsSsTtTtTtUuUuUuUuUuUuWwYyYZzZzZzs";

    // The name under which the encoding is written stays of one length, so that every place in the file stays where it is.
    private static readonly byte[] WrittenEncoding = "/Encoding /StandardEncoding "u8.ToArray();
    private static readonly byte[] WantedEncoding = "/Encoding /WinAnsiEncoding  "u8.ToArray();

    private static readonly Encoding Latin = CodePagesEncodingProvider.Instance.GetEncoding(1252, new EncoderReplacementFallback(string.Empty), DecoderFallback.ExceptionFallback)!;

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
    private bool _isChanged;

    private PdfReport(string foot)
    {
        _plain = _builder.AddStandard14Font(Standard14Font.Courier);
        _bold = _builder.AddStandard14Font(Standard14Font.CourierBold);
        _footer = Encodable(foot, out _isChanged);
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

        if (report._isChanged)
        {
            report.Gap();
            report.Paragraph(Changed, isBold: false);
        }

        report.NumberPages();
        return WithLatin(report._builder.Build());
    }

    /// <summary>The text in the characters of the fonts.</summary>
    /// <param name="text">The text.</param>
    /// <param name="isChanged">Whether any of it had to be written otherwise.</param>
    public static string Encodable(string text, out bool isChanged)
    {
        isChanged = false;
        var shown = new StringBuilder(text.Length);

        foreach (var rune in text.EnumerateRunes())
        {
            if (Rune.IsWhiteSpace(rune))
            {
                shown.Append(' ');
            }
            else if (IsEncodable(rune))
            {
                shown.Append(rune);
            }
            else
            {
                isChanged = true;
                AppendOtherwise(shown, rune);
            }
        }

        return shown.ToString();
    }

    private static void AppendOtherwise(StringBuilder shown, Rune rune)
    {
        if (rune.Value is >= 0x100 and <= 0x17F && Unmarked[rune.Value - 0x100] is not '?' and var plain)
        {
            shown.Append(plain);
        }
        else if (Rune.GetUnicodeCategory(rune) != UnicodeCategory.NonSpacingMark || shown.Length == 0 || !char.IsLetter(shown[^1]))
        {
            // A mark that stands by itself behind its letter is left away.
            shown.Append(CultureInfo.InvariantCulture, $"[U+{rune.Value:X4}]");
        }
    }

    // Not the control characters; the soft hyphen is not shown by every reader.
    private static bool IsEncodable(Rune rune) =>
        rune.Value is (>= ' ' and <= '~') or (> 0xA0 and <= 0xFF and not 0xAD) or (> 0xFF and < 0xE000) && Latin.GetByteCount(rune.ToString()) == 1;

    // The library declares the standard encoding, which has no letters with marks. Both fonts are declared once, and not compressed.
    private static byte[] WithLatin(byte[] file)
    {
        var declared = 0;
        for (var rest = file.AsSpan(); rest.IndexOf(WrittenEncoding) is var at and >= 0; rest = rest[at..])
        {
            WantedEncoding.CopyTo(rest[at..]);
            declared++;
        }

        return declared == 2 ? file : throw new InvalidOperationException("The library does not declare the encoding of the fonts as it did: letters beyond ASCII would be wrong.");
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
            KeepTogether(1 + Lines(Encodable($"  {rest}", out _)).Count());
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
        var shown = Encodable(text, out var isChanged);
        _isChanged |= isChanged;
        foreach (var line in Lines(shown))
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
            Show(line, isBold ? _boldName! : _plainName!, Left, _y);
        }

        _y -= LineHeight;
    }

    // The library measures each character of the texts that it adds itself, which takes a second for a few hundred lines.
    private void Show(string line, NameToken font, double left, double y) => _page!.CurrentStream.Operations.AddRange(
    [
        BeginText.Value,
        new SetFontAndSize(font, Size),
        new SetTextMatrix([1, 0, 0, 1, left, y]),
        new ShowText(Latin.GetBytes(line)),
        EndText.Value,
    ]);

    // The foot brings both fonts to the page; its operations tell by which names.
    private void BeginPage()
    {
        _page = _builder.AddPage(PageSize.A4);
        _written.Add(_page);
        _pages++;
        _y = Top;
        var y = Bottom - (2 * LineHeight);
        _page.AddText("page", Size, new PdfPoint(PageNumberLeft - 25, y), _plain);
        _plainName = LastFont(_page);
        _page.AddText(FormattableString.Invariant($"{_pages}"), Size, new PdfPoint(PageNumberLeft, y), _bold);
        _boldName = LastFont(_page);
        Show(_footer.Length > 90 ? _footer[..90] : _footer, _plainName, Left, y);
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
