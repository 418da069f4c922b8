namespace Traceability.Contracts.Findings;

/// <summary>A page of findings, newest first.</summary>
/// <param name="AsOf">When the page was taken (RFC 3339, UTC).</param>
/// <param name="Findings">The findings, by when what they are about happened.</param>
/// <param name="After">Give this as "after" to get the next page; null on the last. Findings that come up meanwhile make none of the others appear twice or not at all.</param>
/// <param name="Completeness">What may be missing from it.</param>
public sealed record FindingPage(DateTimeOffset AsOf, IReadOnlyList<Finding> Findings, string? After,
    Completeness Completeness);
