using System.Globalization;
using System.Security.Cryptography;
using System.Text;
using System.Text.Encodings.Web;

namespace Traceability.Service.Features.Containments.Report;

/// <summary>Writes a report as one HTML page that needs nothing else and prints well. Every text is escaped.</summary>
internal static class HtmlReport
{
    private const string Style =
        """
        body{font:10pt/1.4 sans-serif;margin:2em auto;max-width:75em;padding:0 1em;color:#000;background:#fff}
        h1{font-size:16pt}h2{font-size:12pt;margin-top:2em;border-bottom:1px solid #000}
        table{border-collapse:collapse;width:100%}th,td{border:1px solid #767676;padding:.25em .5em;text-align:left;vertical-align:top;overflow-wrap:anywhere}
        td:first-child,td:nth-child(2){overflow-wrap:break-word}th{background:#eee;position:sticky;top:0}thead{display:table-header-group}tr{break-inside:avoid}h2{break-after:avoid}
        .warning{border:3px solid #000;padding:.5em 1em;font-weight:bold}nav li{display:inline-block;margin-right:1.5em}nav ul{padding:0}
        @page{size:A4 landscape;margin:15mm;@bottom-right{content:counter(page) " of " counter(pages);font:8pt sans-serif}}
        @media print{body{margin:0;max-width:none;padding:0;font-size:8pt}nav{display:none}th{position:static}}
        """;

    /// <summary>What the page may do: show itself in its own style, and nothing else.</summary>
    public static string ContentSecurityPolicy { get; } =
        $"default-src 'none'; style-src 'sha256-{Convert.ToBase64String(SHA256.HashData(Encoding.UTF8.GetBytes(Style)))}'; frame-ancestors 'none'; base-uri 'none'; form-action 'none'";

    /// <summary>The page, as UTF-8.</summary>
    public static byte[] Write(ReportDocument document)
    {
        var page = new StringBuilder(4_096);
        page.Append("<!DOCTYPE html>\n<html lang=\"en\"><head><meta charset=\"utf-8\"><title>").Append(Escape(document.Title)).Append("</title><style>").Append(Style).Append("</style></head><body>\n<h1>")
            .Append(Escape(document.Title)).Append("</h1>\n");
        if (!document.Warnings.IsEmpty)
        {
            page.Append("<div class=\"warning\" role=\"alert\">");
            foreach (var warning in document.Warnings)
            {
                page.Append("<p>").Append(Escape(warning)).Append("</p>");
            }

            page.Append("</div>\n");
        }

        Contents(page, document.Sections);
        foreach (var (section, number) in document.Sections.Select((s, i) => (s, i)))
        {
            page.Append(CultureInfo.InvariantCulture, $"<section id=\"s{number}\"><h2>").Append(Escape(section.Heading)).Append("</h2>\n");
            foreach (var paragraph in section.Paragraphs)
            {
                page.Append("<p>").Append(Escape(paragraph)).Append("</p>\n");
            }

            if (section.Table is { } table)
            {
                Write(page, table);
            }

            page.Append("</section>\n");
        }

        return Encoding.UTF8.GetBytes(page.Append("</body></html>\n").ToString());
    }

    // A case may have tens of thousands of members: nobody scrolls past them.
    private static void Contents(StringBuilder page, ImmutableArray<ReportSection> sections)
    {
        page.Append("<nav aria-label=\"Sections\"><ul>");
        foreach (var (section, number) in sections.Select((s, i) => (s, i)))
        {
            page.Append(CultureInfo.InvariantCulture, $"<li><a href=\"#s{number}\">").Append(Escape(section.Heading)).Append("</a>");
            if (section.Table is { } table)
            {
                page.Append(CultureInfo.InvariantCulture, $" ({table.Rows.Count})");
            }

            page.Append("</li>");
        }

        page.Append("</ul></nav>\n");
    }

    private static void Write(StringBuilder page, ReportTable table)
    {
        page.Append("<table><thead><tr>");
        foreach (var column in table.Columns)
        {
            page.Append("<th scope=\"col\">").Append(Escape(column)).Append("</th>");
        }

        page.Append("</tr></thead><tbody>\n");
        foreach (var row in table.Rows)
        {
            page.Append("<tr>");
            foreach (var cell in row)
            {
                page.Append("<td>").Append(Escape(cell)).Append("</td>");
            }

            page.Append("</tr>\n");
        }

        page.Append("</tbody></table>\n");
    }

    private static string Escape(string text) => HtmlEncoder.Default.Encode(text);
}
