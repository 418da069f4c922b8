using Traceability.Domain.Facts;
using Traceability.Domain.Primitives;

namespace Traceability.Domain.People;

/// <summary>A person was made known by a code. (The person who is described, not the one who reports: <see cref="Fact.Person"/>.)</summary>
/// <param name="Subject">The person's code.</param>
/// <param name="DisplayName">What to show; may be a code too.</param>
public sealed record PersonDefined(PersonCode Subject, string DisplayName) : Fact;

/// <summary>A person is qualified from here on.</summary>
/// <param name="Subject">The person.</param>
/// <param name="Qualification">What for.</param>
/// <param name="ValidUntil">Until when; null: until withdrawn.</param>
public sealed record QualificationGranted(PersonCode Subject, Code Qualification, DateTimeOffset? ValidUntil) : Fact;

/// <summary>A person is no longer qualified from here on.</summary>
public sealed record QualificationWithdrawn(PersonCode Subject, Code Qualification, string Reason) : Fact;
