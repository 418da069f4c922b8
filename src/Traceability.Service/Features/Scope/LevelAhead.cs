using Traceability.Domain.Scope;

namespace Traceability.Service.Features.Scope;

/// <summary>Rows of a level that were looked up before the walk asked for them, to save it a question.</summary>
/// <param name="Units">The components and units that were looked up.</param>
/// <param name="Items">The items that were looked up.</param>
/// <param name="Rows">What was found.</param>
internal sealed record LevelAhead(IReadOnlySet<string> Units, IReadOnlySet<string> Items, LevelRows Rows)
{
    /// <summary>For the units that used a lot; nothing found yet.</summary>
    public static LevelAhead Of(IReadOnlyList<UsageRow> usages)
    {
        var units = usages.Select(u => u.Unit).ToHashSet(StringComparer.Ordinal);
        return new(units, units.Select(u => u[..u.IndexOf('/', StringComparison.Ordinal)]).ToHashSet(StringComparer.Ordinal), new([], [], []));
    }

    /// <summary>Those of the rows that are asked for, with the others that had to be looked up.</summary>
    public LevelRows With(IReadOnlyCollection<string> components, IReadOnlyCollection<string> items, IReadOnlyCollection<string> units, LevelRows others)
    {
        var (asked, askedItems, askedUnits) = (Set(components), Set(items), Set(units));
        return new(
            [.. Rows.Installations.Where(i => asked.Contains(i.Component)), .. others.Installations],
            [.. Rows.SerialGaps.Where(g => askedItems.Contains(g.Item)), .. others.SerialGaps],
            [.. Rows.Units.Where(u => askedUnits.Contains(u.Unit)), .. others.Units]);
    }

    private static HashSet<string> Set(IReadOnlyCollection<string> names) => names.ToHashSet(StringComparer.Ordinal);
}
