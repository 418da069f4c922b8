namespace Traceability.Domain.Scope;

/// <summary>A time in which a reached unit isn't known to be anywhere, so that it could be where a serial is missing.</summary>
/// <param name="FreeFrom">From when on it could have been put in.</param>
/// <param name="From">From when on it would have passed the suspect on.</param>
/// <param name="To">Until when, this time left out: it is known to be elsewhere from here on, or carries the suspect no more.</param>
/// <param name="Reach">How the suspect reached it.</param>
internal readonly record struct SerialSlot(DateTimeOffset FreeFrom, DateTimeOffset From, DateTimeOffset To, Reach Reach)
{
    /// <summary>Adds the slots of a reached unit in which it may fill a gap: its whole life less the times in which it is known to be elsewhere.</summary>
    /// <param name="slots">Takes them.</param>
    /// <param name="reach">How the suspect reached it.</param>
    /// <param name="unit">Where it stands; null if nothing is known of it.</param>
    /// <param name="gaps">When serials are missing.</param>
    public static void Add(List<SerialSlot> slots, Reach reach, UnitRow? unit, SerialGapTimes gaps)
    {
        var end = unit is { Place: Judging.Place.Scrapped or Judging.Place.Shipped, Since: { } since } ? since : DateTimeOffset.MaxValue;
        var free = unit?.OpenedAt ?? DateTimeOffset.MinValue;
        foreach (var installation in reach.Known!.InstalledBySureTime)
        {
            if (Between(reach, free, Earlier(installation.SureFrom, end)) is { } slot && gaps.MayFit(slot))
            {
                slots.Add(slot);
            }

            free = Later(free, installation.SureTo);
        }

        if (Between(reach, free, end) is { } last && gaps.MayFit(last))
        {
            slots.Add(last);
        }
    }

    private static SerialSlot? Between(Reach reach, DateTimeOffset free, DateTimeOffset end)
    {
        var slot = new SerialSlot(free, Later(free, reach.From), Earlier(end, reach.To), reach);
        return slot.From < slot.To ? slot : null;
    }

    private static DateTimeOffset Earlier(DateTimeOffset a, DateTimeOffset b) => a < b ? a : b;

    private static DateTimeOffset Later(DateTimeOffset a, DateTimeOffset b) => a > b ? a : b;
}

/// <summary>The times in which serials are missing, to tell which slots could fill none of them.</summary>
internal sealed class SerialGapTimes
{
    private readonly DateTimeOffset[] _from;
    private readonly DateTimeOffset[] _latest;

    public SerialGapTimes(IEnumerable<GapRow> gaps)
    {
        var times = gaps.Select(g => (g.From, To: g.To ?? DateTimeOffset.MaxValue)).OrderBy(t => t.From).ToArray();
        _from = [.. times.Select(t => t.From)];
        _latest = [.. times.Select(t => t.To)];
        for (var i = 1; i < _latest.Length; i++)
        {
            _latest[i] = _latest[i] > _latest[i - 1] ? _latest[i] : _latest[i - 1];
        }
    }

    /// <summary>Whether a unit that is free from the slot's start to its end could have been put in where one is missing.</summary>
    public bool MayFit(SerialSlot slot)
    {
        // Of those that begin before its end, the one that ends last.
        var found = Array.BinarySearch(_from, slot.To);
        var count = found < 0 ? ~found : found;
        while (count > 0 && _from[count - 1] == slot.To)
        {
            count--;
        }

        return count > 0 && _latest[count - 1] >= slot.FreeFrom;
    }
}

/// <summary>Finds which slots could fill which gap, without trying every pair: both can be tens of thousands.</summary>
internal sealed class SerialSlots
{
    private readonly SerialSlot[] _ending;
    private readonly DateTimeOffset[] _latestEnd;
    private readonly SerialSlot[] _lasting;
    private readonly int[] _earliest;
    private readonly SerialSlot[] _coverOfEnding;

    public SerialSlots(IReadOnlyCollection<SerialSlot> slots)
    {
        _ending = [.. slots.Where(s => s.To != DateTimeOffset.MaxValue).OrderBy(s => s.FreeFrom)];
        _lasting = [.. slots.Where(s => s.To == DateTimeOffset.MaxValue).OrderBy(s => s.FreeFrom)];
        _latestEnd = new DateTimeOffset[_ending.Length];
        Build(0, _ending.Length);
        _earliest = new int[_lasting.Length];
        for (var i = 1; i < _lasting.Length; i++)
        {
            _earliest[i] = _lasting[i].From < _lasting[_earliest[i - 1]].From ? i : _earliest[i - 1];
        }

        _coverOfEnding = [.. Cover([.. _ending])];
    }

    /// <summary>
    /// The times from <paramref name="from"/> on in which some unit that could have been put in between these times, ends included,
    /// would be there and pass the suspect on; apart from each other, each with the unit that would be there longest.
    /// </summary>
    public IEnumerable<SerialSlot> Fillers(DateTimeOffset from, DateTimeOffset? to)
    {
        var latest = to ?? DateTimeOffset.MaxValue;
        var fits = new List<SerialSlot>();
        if (_ending.Length > 0 && latest >= _ending[^1].FreeFrom)
        {
            fits.AddRange(_coverOfEnding.Where(s => s.To > from).Select(s => Clip(s, from)));
        }
        else
        {
            Find(0, CountUntil(_ending, latest), from, fits);
            fits = Cover(fits);
        }

        if (CountUntil(_lasting, latest) is > 0 and var count)
        {
            fits.Add(Clip(_lasting[_earliest[count - 1]], from));
        }

        return Merge(fits);
    }

    // Reached units follow each other in stock without a break, so there is seldom more than one time.
    private static List<SerialSlot> Merge(List<SerialSlot> slots)
    {
        slots.Sort(static (a, b) => a.From.CompareTo(b.From));
        var merged = new List<SerialSlot>();
        foreach (var slot in slots)
        {
            if (merged.Count == 0 || slot.From > merged[^1].To)
            {
                merged.Add(slot);
            }
            else if (slot.To > merged[^1].To)
            {
                merged[^1] = slot with { From = merged[^1].From };
            }
        }

        return merged;
    }

    // The usual greedy choice: of the slots that start within what is covered, the one that reaches furthest.
    private static List<SerialSlot> Cover(List<SerialSlot> slots)
    {
        slots.Sort(static (a, b) => a.From.CompareTo(b.From));
        var chosen = new List<SerialSlot>();
        var covered = DateTimeOffset.MinValue;
        var next = 0;
        while (next < slots.Count)
        {
            var best = -1;
            for (; next < slots.Count && slots[next].From <= covered; next++)
            {
                best = best < 0 || slots[next].To > slots[best].To ? next : best;
            }

            if (best >= 0 && slots[best].To > covered)
            {
                chosen.Add(slots[best]);
                covered = slots[best].To;
            }
            else if (next < slots.Count)
            {
                covered = slots[next].From;
            }
        }

        return chosen;
    }

    private static SerialSlot Clip(SerialSlot slot, DateTimeOffset from) => slot.From < from ? slot with { From = from } : slot;

    private static int CountUntil(SerialSlot[] slots, DateTimeOffset latest)
    {
        var low = 0;
        var high = slots.Length;
        while (low < high)
        {
            var middle = (low + high) / 2;
            (low, high) = slots[middle].FreeFrom <= latest ? (middle + 1, high) : (low, middle);
        }

        return low;
    }

    // An interval tree laid over the sorted array: the middle of a range is its root and knows the latest end below it.
    private DateTimeOffset Build(int low, int high)
    {
        if (low >= high)
        {
            return DateTimeOffset.MinValue;
        }

        var middle = (low + high) / 2;
        var left = Build(low, middle);
        var right = Build(middle + 1, high);
        var own = _ending[middle].To;
        var latest = left > right ? left : right;
        return _latestEnd[middle] = own > latest ? own : latest;
    }

    // The tree's ranges must be those that Build made, so the limit of the search is passed beside them.
    private void Find(int low, int limit, DateTimeOffset from, List<SerialSlot> found) => Find(low, _ending.Length, limit, from, found);

    private void Find(int low, int high, int limit, DateTimeOffset from, List<SerialSlot> found)
    {
        var middle = (low + high) / 2;
        if (low >= high || low >= limit || _latestEnd[middle] <= from)
        {
            return;
        }

        Find(low, middle, limit, from, found);
        if (middle < limit && _ending[middle].To > from)
        {
            found.Add(Clip(_ending[middle], from));
        }

        Find(middle + 1, high, limit, from, found);
    }
}
