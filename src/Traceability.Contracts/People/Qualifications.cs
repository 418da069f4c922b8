namespace Traceability.Contracts.People;

/// <summary>Qualifications that stand at a moment.</summary>
/// <param name="AsOf">The moment.</param>
/// <param name="Entries">The qualifications, by person and code.</param>
/// <param name="After">Give this as "after" to get the next page; null on the last.</param>
public sealed record QualificationPage(DateTimeOffset AsOf, IReadOnlyList<PersonQualification> Entries, string? After);

/// <summary>One qualification of one person.</summary>
/// <param name="Person">Code of the person.</param>
/// <param name="DisplayName">What to show.</param>
/// <param name="Qualification">Code of the qualification.</param>
/// <param name="Record">Id of the fact that it rests on.</param>
/// <param name="Since">From when on.</param>
/// <param name="ValidUntil">Until when; null: until withdrawn.</param>
/// <param name="Topic">The training that it rests on; null if it was granted by itself.</param>
public sealed record PersonQualification(
    string Person, string DisplayName, string Qualification, Guid Record, DateTimeOffset Since, DateTimeOffset? ValidUntil, string? Topic);
