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

/// <summary>A person completed a training. It grants the qualifications that it names, from then on and for as long as it is valid.</summary>
/// <param name="Subject">The person who was trained.</param>
/// <param name="Topic">The course or topic.</param>
/// <param name="Trainer">Who trained; null where nobody did (reading, an outside course).</param>
/// <param name="Evidence">Where it can be seen: a certificate, a test, a signed list.</param>
/// <param name="Grants">The qualifications that follow; empty: none, the training is a record only.</param>
/// <param name="ValidUntil">When it must be refreshed; null: never.</param>
public sealed record TrainingCompleted(
    PersonCode Subject, Code Topic, PersonCode? Trainer, string? Evidence, ImmutableArray<Code> Grants, DateTimeOffset? ValidUntil) : Fact;

/// <summary>A person is no longer qualified from here on.</summary>
public sealed record QualificationWithdrawn(PersonCode Subject, Code Qualification, string Reason) : Fact;
