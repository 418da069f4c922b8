using Traceability.Contracts.Figures;

namespace Traceability.Contracts.Findings;

/// <summary>How many findings there are of each kind, and what the defects are.</summary>
/// <param name="From">Begin of the period (RFC 3339, UTC), included.</param>
/// <param name="To">End of the period, excluded.</param>
/// <param name="AsOf">When the answer was taken: it holds every fact that was acknowledged before.</param>
/// <param name="Total">All findings.</param>
/// <param name="Kinds">By kind, most frequent first.</param>
/// <param name="DefectKinds">Pareto of the findings that count as defects, by kind, most frequent first.</param>
/// <param name="ReportedDefects">Pareto of the defects that people reported, by defect code; one that was seen three times counts three times.</param>
/// <param name="Completeness">What may be missing from it.</param>
public sealed record FindingCounts(
    DateTimeOffset From,
    DateTimeOffset To,
    DateTimeOffset AsOf,
    long Total,
    IReadOnlyList<FindingCount> Kinds,
    IReadOnlyList<ParetoEntry> DefectKinds,
    IReadOnlyList<ParetoEntry> ReportedDefects,
    Completeness Completeness);

/// <summary>The findings of one kind.</summary>
/// <param name="Kind">The kind.</param>
/// <param name="Findings">How many findings.</param>
/// <param name="Defects">Of these, how many count as defects in yields.</param>
/// <param name="Units">How many different units have one.</param>
public sealed record FindingCount(string Kind, long Findings, long Defects, long Units);

/// <summary>One entry of a Pareto list: ordered by count, largest first.</summary>
/// <param name="Code">The kind of finding, or the defect code.</param>
/// <param name="Count">How many.</param>
/// <param name="CumulativeCount">How many in this and all entries before.</param>
/// <param name="Units">How many different units.</param>
/// <param name="Share">This entry's count of the whole list's.</param>
public sealed record ParetoEntry(string Code, long Count, long CumulativeCount, long Units, Share Share);
