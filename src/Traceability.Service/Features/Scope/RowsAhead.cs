using Traceability.Domain.Primitives;
using Traceability.Domain.Scope;

namespace Traceability.Service.Features.Scope;

/// <summary>All that leads from a few units outwards, looked up before the walk asks for it, level by level.</summary>
/// <param name="units">The units; where those stand that aren't inside another one is looked up, too.</param>
internal sealed class WaysAhead(IReadOnlySet<string> units) : ILevelRows
{
    private readonly HashSet<string> _components = units.ToHashSet(StringComparer.Ordinal);
    private readonly HashSet<string> _items = ItemsAhead.Of(units);
    private readonly LevelRows _rows = new();

    /// <summary>The units.</summary>
    public IReadOnlySet<string> Units { get; } = units;

    /// <summary>The units, and all around them: of each it is known what it was and is inside of.</summary>
    public IReadOnlySet<string> Components => _components;

    /// <summary>Their items: of each it is known where serials of it are missing.</summary>
    public IReadOnlySet<string> Items => _items;

    /// <inheritdoc />
    public void Add(in InstallationRow installation)
    {
        _rows.Add(installation);
        if (_components.Add(installation.Parent))
        {
            _items.GetAlternateLookup<ReadOnlySpan<char>>().Add(UnitKey.ItemOf(installation.Parent));
        }
    }

    /// <inheritdoc />
    public void Add(in GapRow serialGap) => _rows.Add(serialGap);

    /// <summary>Gives those of the rows that are asked for.</summary>
    public void Give(IReadOnlyCollection<string> components, IReadOnlyCollection<string> items, ILevelRows into)
    {
        var (asked, askedItems) = (Set(components), Set(items));
        foreach (var installation in _rows.Installations.Where(i => asked.Contains(i.Component)))
        {
            into.Add(installation);
        }

        foreach (var gap in _rows.SerialGaps.Where(g => askedItems.Contains(g.Item)))
        {
            into.Add(gap);
        }
    }

    private static HashSet<string> Set(IReadOnlyCollection<string> names) => names.ToHashSet(StringComparer.Ordinal);
}

/// <summary>What is to be known of the items of many units, looked up before the walk asks for it.</summary>
/// <param name="items">The items.</param>
internal sealed class ItemsAhead(IReadOnlySet<string> items)
{
    /// <summary>The items.</summary>
    public IReadOnlySet<string> Items { get; } = items;

    /// <summary>Those of them that are components of something.</summary>
    public IReadOnlyList<string> Components { get; set; } = [];

    /// <summary>Missing serials of them.</summary>
    public LevelRows Rows { get; } = new();

    /// <summary>Gives the missing serials of those of the items that are asked for.</summary>
    /// <returns>Those of them that are components of something.</returns>
    public List<string> Give(IReadOnlyCollection<string> items, ILevelRows into)
    {
        foreach (var gap in Rows.SerialGaps.Where(g => items.Contains(g.Item, StringComparer.Ordinal)))
        {
            into.Add(gap);
        }

        return [.. Components.Where(c => items.Contains(c, StringComparer.Ordinal))];
    }

    /// <summary>The items of units.</summary>
    public static HashSet<string> Of(IEnumerable<string> units)
    {
        var items = new HashSet<string>(StringComparer.Ordinal);
        var spans = items.GetAlternateLookup<ReadOnlySpan<char>>();
        foreach (var unit in units)
        {
            spans.Add(UnitKey.ItemOf(unit));
        }

        return items;
    }
}
