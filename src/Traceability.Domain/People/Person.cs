using Traceability.Domain.Facts;
using Traceability.Domain.Primitives;

namespace Traceability.Domain.People;

/// <summary>One person as the facts tell.</summary>
/// <param name="Code">The person's code.</param>
/// <param name="Effective">The facts that count, ordered by when they happened.</param>
public sealed record Person(PersonCode Code, ImmutableArray<EffectiveFact> Effective)
{
    /// <summary>The description that counts: the last one; null while the person is not known.</summary>
    public PersonDefined? Definition
    {
        get
        {
            for (var i = Effective.Length - 1; i >= 0; i--)
            {
                if (Effective[i] is { IsVoided: false, Fact: PersonDefined defined })
                {
                    return defined;
                }
            }

            return null;
        }
    }

    /// <summary>Folds a person's facts.</summary>
    public static Person Of(PersonCode code, ImmutableArray<RecordedFact> facts) => new(code, EffectiveFacts.Of(facts));

    /// <summary>Whether the person was qualified at that time.</summary>
    public bool IsQualifiedAt(Code qualification, DateTimeOffset at)
    {
        var qualified = false;
        foreach (var fact in Effective)
        {
            if (fact.At > at)
            {
                break;
            }

            qualified = fact.IsVoided ? qualified : fact.Fact switch
            {
                QualificationGranted g when g.Qualification == qualification => g.ValidUntil is not { } until || at < until,
                TrainingCompleted t when t.Grants.Contains(qualification) => t.ValidUntil is not { } until || at < until,
                QualificationWithdrawn w when w.Qualification == qualification => false,
                _ => qualified,
            };
        }

        return qualified;
    }

    /// <summary>The qualifications that stood at that time, by their codes.</summary>
    /// <remarks>As with <see cref="IsQualifiedAt"/>, the last word on each counts: a grant, a training or a withdrawal.</remarks>
    public ImmutableArray<StandingQualification> QualificationsAt(DateTimeOffset at)
    {
        var standing = new SortedDictionary<string, StandingQualification>(StringComparer.Ordinal);
        foreach (var fact in Effective)
        {
            if (fact.At > at)
            {
                break;
            }

            if (fact.IsVoided)
            {
                continue;
            }

            switch (fact.Fact)
            {
                case QualificationGranted g:
                    standing[g.Qualification.ToString()] = new(g.Qualification, fact.Id, fact.At, g.ValidUntil, null);
                    break;
                case TrainingCompleted t:
                    foreach (var granted in t.Grants)
                    {
                        standing[granted.ToString()] = new(granted, fact.Id, fact.At, t.ValidUntil, t.Topic);
                    }

                    break;
                case QualificationWithdrawn w:
                    standing.Remove(w.Qualification.ToString());
                    break;
            }
        }

        return [.. standing.Values.Where(s => s.ValidUntil is not { } until || at < until)];
    }
}

/// <summary>One qualification of a person as it stands.</summary>
/// <param name="Qualification">What for.</param>
/// <param name="Record">The fact that it rests on.</param>
/// <param name="Since">From when on.</param>
/// <param name="ValidUntil">Until when; null: until withdrawn.</param>
/// <param name="Topic">The training that it rests on; null if it was granted by itself.</param>
public sealed record StandingQualification(Code Qualification, Guid Record, DateTimeOffset Since, DateTimeOffset? ValidUntil, Code? Topic);
