using Traceability.Domain.Primitives;

namespace Traceability.Domain.Scope;

/// <summary>What was looked up of the units' ways into each other, kept for several walks over one source. For one thread.</summary>
/// <param name="source">Where the rows are.</param>
public sealed class Genealogy(IScopeSource source) : ILevelRows
{
    private readonly Dictionary<string, KnownUnit> _units = new(StringComparer.Ordinal);
    private readonly Dictionary<string, KnownItem> _items = new(StringComparer.Ordinal);

    /// <summary>Where the rows are.</summary>
    public IScopeSource Source => source;

    /// <summary>Finds where each unit is now: the outermost unit that it is inside of, and where that one stands.</summary>
    /// <param name="units">The units, as item/serial.</param>
    /// <param name="cancellation">Stops it.</param>
    /// <returns>One for each of the units, in their order.</returns>
    public ValueTask<ImmutableArray<Whereabouts>> LocateAsync(IReadOnlyList<string> units, CancellationToken cancellation)
    {
        ArgumentNullException.ThrowIfNull(units);
        return LocateAsync([.. units.Select(Of)], cancellation);
    }

    /// <summary>The same for members that were found by it.</summary>
    public ValueTask<ImmutableArray<Whereabouts>> LocateAsync(ImmutableArray<FoundMember> members, CancellationToken cancellation)
    {
        var units = new KnownUnit[members.Length];
        for (var i = 0; i < units.Length; i++)
        {
            units[i] = members[i].Best.Member.Best.Known ?? Of(members[i].Unit);
        }

        return LocateAsync(units, cancellation);
    }

    /// <summary>Makes room for so many units that will be reached directly, and as many around them.</summary>
    internal void Expect(int units) => _units.EnsureCapacity(_units.Count + (2 * units));

    /// <summary>What is known of a unit; made if it is new.</summary>
    internal KnownUnit Of(string name)
    {
        if (!_units.TryGetValue(name, out var unit))
        {
            _units.Add(name, unit = new(name, ItemOf(name)));
        }

        return unit;
    }

    /// <summary>Looks up where these units were and are, and where serials of their items are missing.</summary>
    internal async ValueTask LoadAsync(IReadOnlyCollection<KnownUnit> units, CancellationToken cancellation)
    {
        var missing = new List<KnownUnit>(units.Count);
        foreach (var unit in units)
        {
            if (!unit.IsPlaced)
            {
                unit.IsPlaced = true;
                missing.Add(unit);
            }
        }

        var components = await ComponentsAsync(missing, cancellation);
        await AskAsync(components, Unseen(units), cancellation);
    }

    // The units' items of which it wasn't asked where serials are missing, and now is.
    private static List<KnownItem> Unseen(IEnumerable<KnownUnit> units)
    {
        var unseen = new List<KnownItem>();
        foreach (var item in units.Select(static u => u.Item).Where(static i => i.SerialGaps is null))
        {
            item.SerialGaps = [];
            unseen.Add(item);
        }

        return unseen;
    }

    /// <summary>Looks up where these units stand.</summary>
    internal async ValueTask LoadStandsAsync(IEnumerable<KnownUnit> units, CancellationToken cancellation)
    {
        var unknown = new List<string>();
        foreach (var unit in units)
        {
            if (!unit.IsStanding)
            {
                unit.IsStanding = true;
                unknown.Add(unit.Name);
            }
        }

        if (unknown.Count > 0)
        {
            foreach (var row in await source.UnitsAsync(unknown, cancellation))
            {
                _units[row.Unit].Stands = row;
            }
        }
    }

    private async ValueTask AskAsync(List<KnownUnit> components, List<KnownItem> items, CancellationToken cancellation)
    {
        if (components.Count > 0 || items.Count > 0)
        {
            await source.LevelAsync(Names(components), [.. items.Select(i => i.Name)], this, cancellation);
            Order(items);
        }
    }

    // Of many units those aren't looked up that are of an item of which none was ever inside another unit: most finished products.
    private async ValueTask<List<KnownUnit>> ComponentsAsync(List<KnownUnit> units, CancellationToken cancellation)
    {
        if (units.Count <= source.FewUnits)
        {
            return units;
        }

        KnownItem[] unasked = [.. units.Select(u => u.Item).Where(i => i.IsComponent is null).Distinct()];
        if (unasked.Length > 0)
        {
            // Missing serials are told with it, and are to be told once.
            foreach (var item in unasked)
            {
                item.SerialGaps = [];
            }

            var components = (await source.ItemsAsync([.. unasked.Select(i => i.Name)], this, cancellation)).ToHashSet(StringComparer.Ordinal);
            foreach (var item in unasked)
            {
                item.IsComponent = components.Contains(item.Name);
            }

            Order(unasked);
        }

        return units.TrueForAll(static u => u.Item.IsComponent == true) ? units : units.FindAll(static u => u.Item.IsComponent == true);
    }

    private async ValueTask<ImmutableArray<Whereabouts>> LocateAsync(KnownUnit[] units, CancellationToken cancellation)
    {
        KnownUnit[] outermost = [.. units];
        while (Climb(units, outermost) is { Count: > 0 } missing)
        {
            await AskAsync(await ComponentsAsync(missing, cancellation), [], cancellation);
        }

        await LoadStandsAsync(outermost, cancellation);
        var places = ImmutableArray.CreateBuilder<Whereabouts>(units.Length);
        for (var i = 0; i < units.Length; i++)
        {
            places.Add(outermost[i].Place(outermost[i] == units[i]));
        }

        return places.MoveToImmutable();
    }

    // In an order of their own, so that of two equal ways the same one is told every time.
    private static void Order(IEnumerable<KnownItem> items)
    {
        foreach (var item in items)
        {
            item.SerialGaps!.Sort(static (a, b) => a.RowId != b.RowId ? a.RowId.CompareTo(b.RowId) : string.CompareOrdinal(a.Unit, b.Unit));
        }
    }

    // Goes outwards from each unit as far as that is known; gives those of which it isn't, and which are to be asked for.
    private List<KnownUnit> Climb(KnownUnit[] units, KnownUnit[] outermost)
    {
        var missing = new List<KnownUnit>();
        for (var i = 0; i < units.Length; i++)
        {
            // Records that run in a circle have no outermost unit: after as many steps as there are units, stay there.
            ref var unit = ref outermost[i];
            for (var depth = 0; depth <= _units.Count && unit.IsPlaced && unit.Around is { } around && around != units[i]; depth++)
            {
                unit = around;
            }

            if (!unit.IsPlaced)
            {
                unit.IsPlaced = true;
                missing.Add(unit);
            }
        }

        return missing;
    }

    void ILevelRows.Add(in InstallationRow installation)
    {
        var parent = Of(installation.Parent);
        (parent.IsStanding, parent.Stands) = (true, installation.ParentStands);
        _units[installation.Component].Add(new(parent, installation));
    }

    void ILevelRows.Add(in GapRow serialGap) => _items[serialGap.Item].SerialGaps!.Add(serialGap);

    private static string[] Names(List<KnownUnit> units)
    {
        var names = new string[units.Count];
        for (var i = 0; i < names.Length; i++)
        {
            names[i] = units[i].Name;
        }

        return names;
    }

    private KnownItem ItemOf(string unit)
    {
        var name = UnitKey.ItemOf(unit);
        var items = _items.GetAlternateLookup<ReadOnlySpan<char>>();
        if (!items.TryGetValue(name, out var item))
        {
            item = new(name.ToString());
            _items.Add(item.Name, item);
        }

        return item;
    }
}

/// <summary>Where a unit is now.</summary>
/// <param name="Inside">The outermost unit that it is inside of; null if it is in none.</param>
/// <param name="Stands">Where that one, or the unit itself, stands; null if nothing is known of it.</param>
public readonly record struct Whereabouts(string? Inside, UnitRow? Stands);
