using Traceability.Domain.Primitives;

namespace Traceability.Domain.Containments;

/// <summary>What a run of the question changed: the difference to what the case knows.</summary>
/// <param name="Units">What is to be recorded, ordered by unit (ordinal): the added, the changed and those no longer reached.</param>
/// <param name="Added">Units that were no members.</param>
/// <param name="Changed">Members with another verdict, or reached again.</param>
/// <param name="NotReached">Members that are no longer reached.</param>
public sealed record ContainmentDifference(ImmutableArray<ContainedUnit> Units, int Added, int Changed, int NotReached)
{
    /// <summary>The difference. A member that the run did not reach stays a member: what is missing never clears.</summary>
    /// <param name="containment">The case.</param>
    /// <param name="reached">What the run reached, each unit once, with a verdict.</param>
    public static ContainmentDifference Of(Containment containment, IReadOnlyCollection<ContainedUnit> reached)
    {
        ArgumentNullException.ThrowIfNull(containment);
        ArgumentNullException.ThrowIfNull(reached);
        var units = new SortedDictionary<string, ContainedUnit>(StringComparer.Ordinal);
        var (added, changed, notReached) = (0, 0, 0);
        var seen = new HashSet<UnitKey>(reached.Count);
        foreach (var unit in reached)
        {
            seen.Add(unit.Unit);
            if (!containment.Members.TryGetValue(unit.Unit, out var known))
            {
                added++;
                units[unit.Unit.ToString()] = unit;
            }
            else if (known.Verdict != unit.Verdict)
            {
                changed++;
                units[unit.Unit.ToString()] = unit;
            }
        }

        foreach (var member in containment.Members.Values)
        {
            if (!seen.Contains(member.Unit) && member.Verdict is not null)
            {
                notReached++;
                units[member.Unit.ToString()] = new(member.Unit, null, member.PlaceFound, null, null);
            }
        }

        return new([.. units.Values], added, changed, notReached);
    }
}
