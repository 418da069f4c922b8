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
                QualificationWithdrawn w when w.Qualification == qualification => false,
                _ => qualified,
            };
        }

        return qualified;
    }
}
