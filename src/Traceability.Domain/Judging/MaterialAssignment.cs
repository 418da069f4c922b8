using Traceability.Domain.ProductUnits;
using Traceability.Domain.Routings;

namespace Traceability.Domain.Judging;

/// <summary>Which requirement each recorded material serves.</summary>
/// <remarks>
/// A requirement named in the record is served if it accepts the item. Else the first requirement that accepts the
/// item and isn't served yet is; if all are, the first that accepts it.
/// </remarks>
internal static class MaterialAssignment
{
    /// <summary>The item serves no requirement of the step.</summary>
    public const int None = -1;

    /// <summary>For each material of the record: the place of the requirement in the step, or <see cref="None"/>.</summary>
    public static int[] Of(UnitHistory history, Attempt attempt)
    {
        var uses = attempt.Record.Materials.OrEmpty();
        if (uses.IsEmpty)
        {
            return [];
        }

        var serves = new int[uses.Length];
        Array.Fill(serves, None);
        var requirements = attempt.Step is { } step ? step.Materials.OrEmpty() : [];
        for (var i = 0; i < uses.Length; i++)
        {
            serves[i] = Named(history, requirements, uses[i]);
        }

        for (var i = 0; i < uses.Length; i++)
        {
            if (serves[i] == None && !IsNamed(requirements, uses[i]))
            {
                serves[i] = FirstFree(history, requirements, uses[i], serves);
            }
        }

        return serves;
    }

    /// <summary>Whether the record says which requirement of the step is meant.</summary>
    public static bool IsNamed(ImmutableArray<MaterialRequirement> requirements, MaterialUse use) => IndexOfNamed(requirements, use) >= 0;

    /// <summary>The place of the requirement that the record names; -1 if it names none of the step.</summary>
    public static int IndexOfNamed(ImmutableArray<MaterialRequirement> requirements, MaterialUse use)
    {
        if (use.Requirement is { } code)
        {
            for (var r = 0; r < requirements.Length; r++)
            {
                if (requirements[r].Code == code)
                {
                    return r;
                }
            }
        }

        return -1;
    }

    private static int Named(UnitHistory history, ImmutableArray<MaterialRequirement> requirements, MaterialUse use)
    {
        var r = IndexOfNamed(requirements, use);
        return r >= 0 && Accepts(requirements[r], use) && history.Applies(requirements[r].AppliesTo) ? r : None;
    }

    private static int FirstFree(UnitHistory history, ImmutableArray<MaterialRequirement> requirements, MaterialUse use, int[] serves)
    {
        var first = None;
        for (var r = 0; r < requirements.Length; r++)
        {
            if (Accepts(requirements[r], use) && history.Applies(requirements[r].AppliesTo))
            {
                if (!serves.AsSpan().Contains(r))
                {
                    return r;
                }

                first = first == None ? r : first;
            }
        }

        return first;
    }

    private static bool Accepts(MaterialRequirement requirement, MaterialUse use) =>
        use.Item == requirement.Item || requirement.Alternatives.OrEmpty().Contains(use.Item);
}
