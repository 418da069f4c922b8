using Traceability.Domain.Facts;

namespace Traceability.Domain.Scope;

/// <summary>What was looked up of one unit, kept for several walks over one source.</summary>
/// <param name="name">The unit, as item/serial.</param>
/// <param name="item">Its item.</param>
internal sealed class KnownUnit(string name, KnownItem item)
{
    private static readonly Comparison<Installed> ByTime = Compare;
    private static readonly Comparison<Installed> BySureTime = static (a, b) => a.SureFrom.CompareTo(b.SureFrom);

    // Most are inside one other unit all their life.
    private Installed _only;
    private Installed[]? _several;
    private int _count;

    /// <summary>The unit, as item/serial.</summary>
    public string Name { get; } = name;

    /// <summary>Its item.</summary>
    public KnownItem Item { get; } = item;

    /// <summary>Whether it was asked where it was and is.</summary>
    public bool IsPlaced { get; set; }

    /// <summary>Where it was and is, by time; of equal times in an order of their own, so that the same way is told every time.</summary>
    public ReadOnlySpan<Installed> Installed => _several is { } several ? several : new ReadOnlySpan<Installed>(in _only)[.._count];

    /// <summary>The same by the time from which on it surely was there: of two clocks the more doubtful one may have told the earlier time.</summary>
    public ReadOnlySpan<Installed> InstalledBySureTime
    {
        get
        {
            var installed = Installed;
            for (var i = 1; i < installed.Length; i++)
            {
                if (installed[i].SureFrom < installed[i - 1].SureFrom)
                {
                    Installed[] sorted = [.. installed];
                    Array.Sort(sorted, BySureTime);
                    return sorted;
                }
            }

            return installed;
        }
    }

    /// <summary>Whether it was asked where it stands.</summary>
    public bool IsStanding { get; set; }

    /// <summary>Where it stands; null if nothing is known of it.</summary>
    public UnitRow? Stands { get; set; }

    /// <summary>The walk that <see cref="First"/> is of.</summary>
    public ScopeWalk? Walk { get; set; }

    /// <summary>The first of the ways in which that walk reached it.</summary>
    public Reach? First { get; set; }

    /// <summary>The unit that it is inside of now, or null. Should records contradict each other, the last one counts.</summary>
    public KnownUnit? Around
    {
        get
        {
            Installed? last = null;
            foreach (ref readonly var installed in Installed)
            {
                if (installed.ToldTo is null && (last is not { } known || installed.ToldFrom > known.ToldFrom))
                {
                    last = installed;
                }
            }

            return last?.Parent;
        }
    }

    /// <summary>Takes an installation that was found.</summary>
    public void Add(Installed installed)
    {
        if (_count == 0)
        {
            _only = installed;
        }
        else
        {
            _several = [.. Installed, installed];
            Array.Sort(_several, ByTime);
        }

        _count++;
    }

    /// <summary>Where a unit is that this one is the outermost of.</summary>
    /// <param name="isItself">Whether it is this one.</param>
    public Whereabouts Place(bool isItself) => new(isItself ? null : Name, Stands);

    private static int Compare(Installed a, Installed b)
    {
        var byTime = a.ToldFrom.CompareTo(b.ToldFrom);
        return byTime != 0 ? byTime : a.RowId != b.RowId ? a.RowId.CompareTo(b.RowId) : string.CompareOrdinal(a.Parent.Name, b.Parent.Name);
    }
}

/// <summary>A time inside another unit.</summary>
internal readonly struct Installed
{
    private const long Never = long.MaxValue;

    private readonly long _from;
    private readonly long _to;
    private readonly TimeSpan _uncertainty;

    /// <summary>Takes what a row tells.</summary>
    /// <param name="parent">The other unit.</param>
    /// <param name="row">The row.</param>
    public Installed(KnownUnit parent, in InstallationRow row)
    {
        Parent = parent;
        RowId = row.RowId;
        _from = row.From.UtcTicks;
        _to = row.To?.UtcTicks ?? Never;
        _uncertainty = row.Uncertainty;
    }

    /// <summary>The other unit.</summary>
    public KnownUnit Parent { get; }

    /// <summary>The row's id within the other unit.</summary>
    public long RowId { get; }

    /// <summary>From when on, as it was told.</summary>
    public DateTimeOffset ToldFrom => new(_from, TimeSpan.Zero);

    /// <summary>Until when, as it was told; null while it is inside.</summary>
    public DateTimeOffset? ToldTo => _to == Never ? null : new(_to, TimeSpan.Zero);

    /// <summary>From when on it may have been inside.</summary>
    public DateTimeOffset From => Instant.Shift(ToldFrom, -_uncertainty);

    /// <summary>From when on it surely was.</summary>
    public DateTimeOffset SureFrom => Instant.Shift(ToldFrom, _uncertainty);

    /// <summary>Until when it may have been inside; the greatest possible time: until now.</summary>
    public DateTimeOffset To => ToldTo is { } to ? Instant.Shift(to, _uncertainty) : DateTimeOffset.MaxValue;

    /// <summary>Until when it surely was; the greatest possible time: until now.</summary>
    public DateTimeOffset SureTo => ToldTo is { } to ? Instant.Shift(to, -_uncertainty) : DateTimeOffset.MaxValue;
}

/// <summary>What was looked up of an item.</summary>
/// <param name="name">The item.</param>
internal sealed class KnownItem(string name)
{
    /// <summary>The item.</summary>
    public string Name { get; } = name;

    /// <summary>Whether a unit of it was ever inside another one; null: not asked.</summary>
    public bool? IsComponent { get; set; }

    /// <summary>Missing serials for which it would be accepted, in an order of their own; null: not asked.</summary>
    public List<GapRow>? SerialGaps { get; set; }
}
