using System.Text;
using Traceability.Contracts.Containments;
using Traceability.Contracts.Facts;
using Traceability.Contracts.Figures;
using Traceability.Contracts.Scope;
using Traceability.Service.Features.Containments.Report;
using UglyToad.PdfPig;
using Xunit;

namespace Traceability.Service.Tests.Containments;

/// <summary>Reports of a case, whatever people have typed.</summary>
public sealed class ReportTests
{
    private const string Nasty = "<img src=x onerror=alert(1)>\u00FC\u81A0\U0001F9EA\u202E\t\u0301 & \"q\" 'a'\r\nnext";
    private static readonly DateTimeOffset At = new(2026, 3, 2, 8, 15, 30, TimeSpan.FromHours(1));

    [Theory]
    [InlineData("=1+1", "'=1+1")]
    [InlineData("+1", "'+1")]
    [InlineData("-1", "'-1")]
    [InlineData("@x", "'@x")]
    [InlineData("\tx", "'\tx")]
    [InlineData("\rx", "\"'\rx\"")]
    [InlineData("a=1", "a=1")]
    [InlineData("a,b", "\"a,b\"")]
    [InlineData("say \"so\"", "\"say \"\"so\"\"\"")]
    [InlineData("two\nlines", "\"two\nlines\"")]
    [InlineData("=\"a\",b", "\"'=\"\"a\"\",b\"")]
    [InlineData("", "")]
    [InlineData(null, "")]
    public void A_cell_is_quoted_by_RFC_4180_and_no_formula(string? text, string cell) => Assert.Equal(cell, CsvReport.Cell(text));

    [Fact]
    public void The_members_read_back_from_the_csv_are_those_that_were_written()
    {
        var rows = Parse(Encoding.UTF8.GetString(CsvReport.Write(Content(3))));
        Assert.Equal(4, rows.Count);
        Assert.All(rows, r => Assert.Equal(rows[0].Count, r.Count));
        var note = rows[0].IndexOf("note");
        Assert.Equal($"'={Nasty}", rows[1][note]);
        Assert.Equal(["1", "2", "3"], rows.Skip(1).Select(r => r[rows[0].IndexOf("serial")]));
    }

    [Fact]
    public void Nothing_that_was_typed_is_markup_in_the_page()
    {
        var page = Encoding.UTF8.GetString(HtmlReport.Write(CaseReport.Of(Content(2))));
        Assert.DoesNotContain("<img", page, StringComparison.Ordinal);
        Assert.Contains("&lt;img src=x onerror=alert(1)&gt;", page, StringComparison.Ordinal);
        Assert.DoesNotContain("http", page, StringComparison.Ordinal);
        Assert.Contains("does not state that any unit is safe", page, StringComparison.Ordinal);
    }

    [Fact]
    public void The_file_reads_back_with_every_member_and_every_character()
    {
        using var file = PdfDocument.Open(PdfReport.Write(CaseReport.Of(Content(400))));
        Assert.True(file.NumberOfPages > 5);
        var text = string.Concat(file.GetPages().Select(p => p.Text));
        Assert.All(Enumerable.Range(1, 400), i => Assert.Contains($"LAMP/{i}", text, StringComparison.Ordinal));
        Assert.Contains("ü[U+81A0][U+1F9EA][U+202E]", text, StringComparison.Ordinal);
    }

    [Theory]
    [InlineData("Prüfgerät für Façade, Ærø, señor, Škoda, 20 µm ± 5 °, 5 €", "Prüfgerät für Façade, Ærø, señor, Škoda, 20 µm ± 5 °, 5 €", false)]
    [InlineData("Łódź, Dvořák, Győr", "Lódz, Dvorák, Gyor", true)]
    [InlineData("Pru\u0308fung", "Prufung", true)]
    [InlineData("\u2264 3, \u0308", "[U+2264] 3, [U+0308]", true)]
    [InlineData("Журнал", "[U+0416][U+0443][U+0440][U+043D][U+0430][U+043B]", true)]
    public void Letters_beyond_ASCII_are_written_as_they_are_where_the_fonts_have_them_and_the_file_says_where_not(string entered, string shown, bool isTold)
    {
        using var file = PdfDocument.Open(PdfReport.Write(new(entered, [new("S", [entered], null)])));
        var text = string.Concat(file.GetPages().Select(p => p.Text));
        Assert.Contains(shown, text, StringComparison.Ordinal);
        Assert.Equal(isTold, text.Contains("The fonts of this form have the letters of western Europe.", StringComparison.Ordinal));
    }

    [Fact]
    public void A_table_that_is_too_long_for_the_file_says_so()
    {
        var rows = Enumerable.Range(0, PdfReport.RowsMax + 7).Select(i => System.Collections.Immutable.ImmutableArray.Create($"R{i}")).ToArray();
        using var file = PdfDocument.Open(PdfReport.Write(new("T", [new("S", [], new(["C"], rows))])));
        Assert.Contains("7 more rows are not shown here", string.Concat(file.GetPages().Select(p => p.Text)), StringComparison.Ordinal);
    }

    private static CaseContent Content(int members)
    {
        var share = new Share(0, members, 0, 0, 0.5);
        var figures = new ContainmentFiguresView(
            members, [new("proven", members)], [new("in-process", members)], [], 0, members, 0, 0, 0, share, 0, new(0, 0, null, null, null), [], new(0, null, null));
        var view = new ContainmentView(
            At, "C-1", Nasty, Nasty, "open", At, Nasty, new LotSuspect { Item = "ADH", Lot = "L1" }, Nasty, HoldsLate: false, IsScoped: true, HasUnreadable: false, figures,
            [new(1, At, IsComplete: true, members, members, 0, 0, [Nasty])], [new(Guid.Empty, At, Nasty, Nasty, 0)], new(IsComplete: true, 0, [], 0, [], 0));
        return new(view, [.. Enumerable.Range(1, members).Select(Member)], [new(Nasty, [new(Unit(1), Unit(1), At, Nasty, "proven", null)])]);
    }

    private static ContainmentMemberView Member(int serial) => new(
        Unit(serial), "proven", Nasty, null, 1, At, Guid.Empty, "in-process", IsLate: false, IsAcknowledged: false, new(null, "in-process", "GLUE", At, null), IsHeldByCase: false, [], At, null,
        new("scrapped", IsFinal: true, At, "P-9", $"={Nasty}", Guid.Empty, []));

    private static UnitRef Unit(int serial) => new() { Item = "LAMP", Serial = FormattableString.Invariant($"{serial}") };

    // A reader by the grammar of RFC 4180, section 2.
    private static List<List<string>> Parse(string text)
    {
        List<List<string>> rows = [[]];
        var cell = new StringBuilder();
        var isQuoted = false;
        for (var i = 0; i < text.Length; i++)
        {
            var c = text[i];
            if (isQuoted && c == '"' && i + 1 < text.Length && text[i + 1] == '"')
            {
                cell.Append(text[i++]);
            }
            else if (c == '"')
            {
                isQuoted = !isQuoted;
            }
            else if (!isQuoted && c == ',')
            {
                rows[^1].Add(cell.ToString());
                cell.Clear();
            }
            else if (!isQuoted && c == '\r' && text[i + 1] == '\n')
            {
                rows[^1].Add(cell.ToString());
                cell.Clear();
                rows.Add([]);
                i++;
            }
            else
            {
                cell.Append(c);
            }
        }

        rows.RemoveAt(rows.Count - 1);
        return rows;
    }
}
