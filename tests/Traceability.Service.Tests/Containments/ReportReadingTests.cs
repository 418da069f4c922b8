using System.Text;
using Traceability.Contracts.Containments;
using Traceability.Contracts.Facts;
using Traceability.Contracts.Scope;
using Traceability.Service.Features.Containments.Report;
using UglyToad.PdfPig;
using Xunit;

namespace Traceability.Service.Tests.Containments;

/// <summary>A report is read by somebody in a hurry: what stands against it and what is open come first, the long lists last.</summary>
public sealed class ReportReadingTests
{
    private static readonly DateTimeOffset At = new(2026, 3, 2, 8, 15, 30, TimeSpan.FromHours(1));

    [Fact]
    public void What_is_open_is_told_before_the_lists_with_what_to_do()
    {
        var document = CaseReport.Of(Content());
        Assert.Equal(
            ["Question", "Open points", "Figures", "What came late", "Consignees", "Runs of the question", "Closing", "Members", "What each consignee has", "Holds", "Outcomes"],
            document.Sections.Select(s => s.Heading));
        Assert.Equal(
            [
                "4 of 5 members have no final outcome. They are now: in-process 1, in-stock 1, shipped 2.",
                "1 of them are on site and not stopped by this case: set its holds.",
                "2 of them are with 1 consignee: see Consignees.",
                "1 members came late, and nobody has taken note of them: see What came late.",
            ],
            document.Sections[1].Paragraphs.ToArray());
        Assert.Equal(["Fell End Supplies", "3", "2", "1"], document.Sections[4].Table!.Rows.Single().ToArray());
        Assert.Equal(["LAMP/2", "LAMP/3", "LAMP/4", "LAMP/5", "LAMP/1"], document.Sections[7].Table!.Rows.Select(r => r[0]));
        Assert.Contains("median 2 h 3 min, longest 1 d 4 h, over 2 members", document.Sections[2].Table!.Rows[^1][1], StringComparison.Ordinal);
        Assert.Contains("all times are UTC", string.Join(' ', document.Sections[0].Paragraphs), StringComparison.Ordinal);
        Assert.Contains("2026-03-02 07:15:30Z", string.Join(' ', document.Sections[0].Paragraphs), StringComparison.Ordinal);
        Assert.Empty(document.Warnings);
    }

    [Fact]
    public void Where_nothing_is_open_it_says_what_is_recorded_and_no_more()
    {
        var content = Content();
        var done = content with { Members = [content.Members[0]], Consignees = [] };
        Assert.Equal("None is recorded: every member has a final outcome, and those that came late were taken note of.", CaseReport.Of(done).Sections[1].Paragraphs.Single());
    }

    [Fact]
    public void What_stands_against_relying_on_it_comes_before_everything_else_in_every_form()
    {
        var content = Content();
        var document = CaseReport.Of(content with
        {
            Case = content.Case with
            {
                IsScoped = false, HasUnreadable = true, Completeness = new(IsComplete: false, 3, [], 4, [], 5), Runs = [content.Case.Runs[0] with { IsComplete = false }],
            },
        });
        string[] begin = ["THE FIRST RUN HAS NOT ENDED", "SOME STORED FACTS OF THIS CASE CAN'T BE READ", "THE PLACES MAY BE INCOMPLETE: 3 units and 4 records", "RUN 1 OF 2026-03-02 07:15:30Z COULD NOT READ EVERYTHING"];
        Assert.Equal(begin.Length, document.Warnings.Length);
        Assert.All(begin.Zip(document.Warnings), w => Assert.StartsWith(w.First, w.Second, StringComparison.Ordinal));
        var page = Encoding.UTF8.GetString(HtmlReport.Write(document));
        Assert.True(page.IndexOf("role=\"alert\"", StringComparison.Ordinal) is var at && at > 0 && at < page.IndexOf("<h2>", StringComparison.Ordinal), page[..500]);
        using var file = PdfDocument.Open(PdfReport.Write(document));
        var text = file.GetPage(1).Text;
        Assert.True(text.IndexOf("THE FIRST RUN HAS NOT ENDED", StringComparison.Ordinal) is var first && first >= 0 && first < text.IndexOf("QUESTION", StringComparison.Ordinal), text);
    }

    [Fact]
    public void The_page_leads_to_every_section_and_tells_how_long_each_list_is()
    {
        var document = CaseReport.Of(Content());
        var page = Encoding.UTF8.GetString(HtmlReport.Write(document));
        for (var i = 0; i < document.Sections.Length; i++)
        {
            Assert.Contains($"<a href=\"#s{i}\">{document.Sections[i].Heading}</a>", page, StringComparison.Ordinal);
            Assert.Contains($"<section id=\"s{i}\">", page, StringComparison.Ordinal);
        }

        Assert.Contains(">Members</a> (5)", page, StringComparison.Ordinal);
    }

    [Fact]
    public void No_row_of_the_file_is_torn_by_the_end_of_a_page_and_every_page_tells_of_how_many()
    {
        var rows = Enumerable.Range(0, 300).Select(i => System.Collections.Immutable.ImmutableArray.Create($"begin{i:000}", new string('x', i % 400), $"end{i:000}")).ToArray();
        using var file = PdfDocument.Open(PdfReport.Write(new("T", [new("S", [], new(["C", "D", "E"], rows))])));
        var pages = file.GetPages().Select(p => p.Text).ToArray();
        Assert.InRange(pages.Length, 5, 40);
        Assert.All(pages, p => Assert.Contains($"of {pages.Length}", p, StringComparison.Ordinal));
        for (var i = 0; i < rows.Length; i++)
        {
            Assert.Contains($"end{i:000}", Assert.Single(pages, p => p.Contains($"begin{i:000}", StringComparison.Ordinal)), StringComparison.Ordinal);
        }
    }

    private static CaseContent Content()
    {
        var view = new ContainmentView(
            At, "C-1", "Gels late", "Two tubes", "open", At, "P-9", new LotSuspect { Item = "ADH", Lot = "L1" }, "lot ADH/L1", HoldsLate: false, IsScoped: true, HasUnreadable: false,
            new(5, [new("proven", 5)], [], [], 1, 2, 4, 1, 1, new(1, 5, 0.2, 0, 0.5), 3, new(1, 3, 0.3, 0, 0.9), [], new(2, "PT2H3M", "P1DT4H")),
            [new(1, At, IsComplete: true, 5, 5, 0, 0, [])], [], new(IsComplete: true, 0, [], 0, [], 0));
        var final = new MemberOutcomeView("scrapped", IsFinal: true, At, "P-9", null, Guid.Empty, []);
        var told = new MemberOutcomeView("consignee-notified", IsFinal: false, At, "P-9", null, Guid.Empty, []);
        return new(
            view,
            [Member(1, "shipped", final), Member(2, "shipped", told), Member(3, "shipped", null), Member(4, "in-process", null, isHeld: true), Member(5, "in-stock", null, isLate: true)],
            [
                new("Fell End Supplies",
                [
                    new(Unit(1), Unit(1), At, null, "proven", final), new(Unit(2), Unit(2), At, null, "proven", told), new(Unit(3), Unit(3), At, null, "proven", null),
                ]),
            ]);
    }

    private static ContainmentMemberView Member(int serial, string place, MemberOutcomeView? outcome, bool isHeld = false, bool isLate = false) => new(
        Unit(serial), "proven", "The record names it.", null, isLate ? 2 : 1, At, Guid.Empty, "in-process", isLate, IsAcknowledged: false, new(null, place, null, At, null), isHeld, [], null, null, outcome);

    private static UnitRef Unit(int serial) => new() { Item = "LAMP", Serial = FormattableString.Invariant($"{serial}") };
}
