namespace Traceability.Service.Features.Containments.Report;

/// <summary>A table of a report; every cell is plain text.</summary>
/// <param name="Columns">The names of the columns.</param>
/// <param name="Rows">The rows, each with a cell for each column.</param>
internal sealed record ReportTable(ImmutableArray<string> Columns, IReadOnlyList<ImmutableArray<string>> Rows);

/// <summary>A section of a report.</summary>
/// <param name="Heading">The heading.</param>
/// <param name="Paragraphs">Text before the table.</param>
/// <param name="Table">The table; null for none.</param>
internal sealed record ReportSection(string Heading, ImmutableArray<string> Paragraphs, ReportTable? Table);

/// <summary>A report, before it is given a form.</summary>
/// <param name="Title">The title.</param>
/// <param name="Sections">The sections.</param>
internal sealed record ReportDocument(string Title, ImmutableArray<ReportSection> Sections)
{
    /// <summary>Gets what stands against relying on it: shown before everything else.</summary>
    public ImmutableArray<string> Warnings { get; init; } = [];

    /// <summary>Gets what stands at the foot of every page; null: the title.</summary>
    public string? Foot { get; init; }
}
