namespace Traceability.Domain.Scope;

/// <summary>Puts things in the order of their units' names (ordinal).</summary>
/// <remarks>
/// Names of tens of thousands of units begin alike, so comparing them whole again and again costs more than all else. They are sorted
/// by item first, and within it by what follows their common beginning, packed into numbers; only what still ties is compared whole.
/// </remarks>
public static class UnitOrder
{
    private const int Packed = 8;

    /// <summary>Sorts them.</summary>
    /// <param name="things">The things.</param>
    /// <param name="unit">Names a thing's unit, as item/serial.</param>
    public static void Sort<T>(T[] things, Func<T, string> unit)
        where T : class
    {
        ArgumentNullException.ThrowIfNull(things);
        ArgumentNullException.ThrowIfNull(unit);
        if (IsSorted(things, unit))
        {
            return;
        }

        // No item with the slash behind it is the beginning of another one, so names are ordered by it before all else.
        var byItem = new SortedDictionary<string, List<T>>(StringComparer.Ordinal);
        var items = new Dictionary<string, List<T>>(StringComparer.Ordinal).GetAlternateLookup<ReadOnlySpan<char>>();
        foreach (var thing in things)
        {
            var name = unit(thing);
            var item = name.AsSpan(0, name.IndexOf('/', StringComparison.Ordinal) + 1);
            if (!items.TryGetValue(item, out var list))
            {
                items[item] = list = [];
                byItem.Add(item.ToString(), list);
            }

            list.Add(thing);
        }

        var next = 0;
        foreach (var list in byItem.Values)
        {
            list.CopyTo(things, next);
            SortAlike(things.AsSpan(next, list.Count), unit);
            next += list.Count;
        }
    }

    private static void SortAlike<T>(Span<T> things, Func<T, string> unit)
    {
        var first = unit(things[0]).AsSpan();
        var alike = first.Length;
        foreach (var thing in things)
        {
            alike = Math.Min(alike, first.CommonPrefixLength(unit(thing)));
        }

        var keys = new ulong[things.Length];
        for (var i = 0; i < keys.Length; i++)
        {
            if (Key(unit(things[i]), alike) is not { } key)
            {
                things.Sort((a, b) => string.CompareOrdinal(unit(a), unit(b)));
                return;
            }

            keys[i] = key;
        }

        keys.AsSpan().Sort(things);
        for (var from = 0; from < keys.Length;)
        {
            var to = from + 1;
            while (to < keys.Length && keys[to] == keys[from])
            {
                to++;
            }

            if (to - from > 1)
            {
                things[from..to].Sort((a, b) => string.CompareOrdinal(unit(a), unit(b)));
            }

            from = to;
        }
    }

    // A byte for each character, zero behind the end; null where one needs more than a byte.
    private static ulong? Key(string name, int from)
    {
        var key = 0UL;
        for (var i = from; i < from + Packed; i++)
        {
            var character = i < name.Length ? name[i] : '\0';
            if (character > byte.MaxValue)
            {
                return null;
            }

            key = (key << 8) | character;
        }

        return key;
    }

    private static bool IsSorted<T>(T[] things, Func<T, string> unit)
    {
        for (var i = 1; i < things.Length; i++)
        {
            if (string.CompareOrdinal(unit(things[i - 1]), unit(things[i])) > 0)
            {
                return false;
            }
        }

        return true;
    }
}
