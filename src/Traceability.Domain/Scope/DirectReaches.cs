namespace Traceability.Domain.Scope;

/// <summary>Gathers the units that a suspect reaches directly: by records that are of it, and by gaps that it could fill.</summary>
internal sealed class DirectReaches
{
    private readonly UseFilter _filter;
    private readonly List<Reach> _found = [];

    /// <summary>For a suspect.</summary>
    public DirectReaches(SingleSuspect suspect) => _filter = suspect.Filter;

    /// <summary>Whether some record is of the suspect, or may be.</summary>
    public bool IsNamed { get; private set; }

    /// <summary>Adds a record that is of the suspect as far as it goes, if it fits the times and places asked for.</summary>
    /// <param name="share">How sure it is of the suspect, leaving those aside; null: it isn't.</param>
    /// <param name="kind">How the suspect got there.</param>
    /// <param name="unit">The unit.</param>
    /// <param name="rowId">The row.</param>
    /// <param name="time">The earliest and the latest time of it; null: until now.</param>
    /// <param name="step">The step.</param>
    /// <param name="station">The station; null: not recorded.</param>
    public void AddRecord(
        ScopeVerdict? share, HopKind kind, string unit, long rowId, (DateTimeOffset From, DateTimeOffset? To) time, string step, string? station)
    {
        if (share is null || _filter.Share(time.From, time.To, step, station) is not { } fits)
        {
            return;
        }

        IsNamed = true;
        var isProven = share == ScopeVerdict.Proven && fits == ScopeVerdict.Proven;
        _found.Add(new(unit, kind, rowId, via: null)
        {
            From = _filter.Earliest(time.From),

            // What is recorded has happened by now, whenever that was.
            SureFrom = _filter.Latest(time.To) ?? DateTimeOffset.MaxValue.AddTicks(-1),
            To = DateTimeOffset.MaxValue,
            IsProven = isProven,
            IsInDoubt = !isProven,
        });
    }

    /// <summary>Adds a gap that the suspect could fill, if it fits the times and places asked for.</summary>
    public void AddGap(HopKind kind, WorkGapRow gap)
    {
        if (_filter.Share(gap.From, gap.To, gap.Step, gap.Station) is null || !CanBeAt(gap))
        {
            return;
        }

        var from = _filter.Earliest(gap.From);
        _found.Add(new(gap.Unit, kind, gap.RowId, via: null)
        {
            From = from,
            SureFrom = from,
            To = DateTimeOffset.MaxValue,
            IsProven = false,
            IsGapRow = true,
        });
    }

    /// <summary>All of them, in an order of their own, so that of two equal ways the same one is told every time.</summary>
    public IReadOnlyList<Reach> Finish()
    {
        _found.Sort(static (a, b) => a.Kind != b.Kind ? a.Kind.CompareTo(b.Kind) : ScopeWalk.Compare(a.RowId, a.Unit, b.RowId, b.Unit));
        return _found;
    }

    // Where the station isn't known, it is one of those that the routing binds the step to.
    private bool CanBeAt(WorkGapRow gap) =>
        _filter.Station is not { } station || gap.Station is not null || gap.Stations is not { } bound
        || bound.Split(' ').Contains(station.Value, StringComparer.Ordinal);
}
