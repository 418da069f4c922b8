namespace Traceability.Domain.Scope;

/// <summary>How a suspect got from one hop of a path to the next.</summary>
public enum HopKind
{
    /// <summary>The record names the suspect.</summary>
    Recorded,

    /// <summary>The record names the suspect as one of several, one of which was used.</summary>
    OneOfSeveral,

    /// <summary>The record names a lot all of which came from the suspect.</summary>
    Sublot,

    /// <summary>The record names a lot that material of the suspect went into, beside other material.</summary>
    MixedLot,

    /// <summary>The record names several lots, one of which was used; each is the suspect or came wholly from it.</summary>
    EachOfSeveral,

    /// <summary>No lot is recorded, and the suspect could have been used.</summary>
    LotMissing,

    /// <summary>The lot is recorded and the container is not; the suspect could have been used.</summary>
    ContainerMissing,

    /// <summary>No serial is recorded, and the component could have been a piece of the suspect lot itself.</summary>
    PieceMissing,

    /// <summary>Which lot the unit itself, or a component of which nothing is recorded, came in is not recorded, and it could have been the suspect.</summary>
    OwnLotMissing,

    /// <summary>The unit was inside the other one.</summary>
    Installed,

    /// <summary>No serial is recorded, and the reached unit could have been put in.</summary>
    SerialMissing,

    /// <summary>The unit itself is suspected.</summary>
    Itself,

    /// <summary>The record names the suspect tool.</summary>
    ToolUsed,

    /// <summary>No tool is recorded, and the suspect one could have been used.</summary>
    ToolMissing,

    /// <summary>The record is of suspect work.</summary>
    Worked,

    /// <summary>No record of the step counts, and it could have been suspect work.</summary>
    WorkMissing,

    /// <summary>The record gives a suspect value.</summary>
    Measured,

    /// <summary>No value is recorded, and it could have been a suspect one.</summary>
    MeasurementMissing,

    /// <summary>The records tell of an interval of a suspect length.</summary>
    IntervalEnded,

    /// <summary>No record tells how long an interval was, and it could have been of a suspect length.</summary>
    IntervalMissing,
}

/// <summary>One way in which the suspect reached a unit, with the way before it.</summary>
/// <param name="unit">The unit that is reached.</param>
/// <param name="kind">The last hop.</param>
/// <param name="rowId">The row of this unit that tells of the hop.</param>
/// <param name="via">How the suspect reached the unit inside; null for the first hop.</param>
public sealed class Reach(string unit, HopKind kind, long rowId, Reach? via)
{
    // Tens of thousands of these are made for one answer, and a number of ticks is half as large as a time.
    private readonly long _from;
    private readonly long _sureFrom;
    private readonly long _to;
    private readonly long _sureTo = DateTimeOffset.MaxValue.UtcTicks;

    /// <summary>The unit that is reached.</summary>
    public string Unit { get; } = unit;

    /// <summary>The last hop.</summary>
    public HopKind Kind { get; } = kind;

    /// <summary>The row of <see cref="Unit"/> that tells of the hop.</summary>
    public long RowId { get; } = rowId;

    /// <summary>How the suspect reached the unit inside; null for the first hop.</summary>
    public Reach? Via { get; } = via;

    /// <summary>From when on the unit carries the suspect, at the earliest; the least possible time: always.</summary>
    public required DateTimeOffset From
    {
        get => new(_from, TimeSpan.Zero);
        init => _from = value.UtcTicks;
    }

    /// <summary>From when on it carries it at the latest, where that is proven.</summary>
    public required DateTimeOffset SureFrom
    {
        get => new(_sureFrom, TimeSpan.Zero);
        init => _sureFrom = value.UtcTicks;
    }

    /// <summary>Until when it carries it, this time left out; the greatest possible time: until now.</summary>
    public required DateTimeOffset To
    {
        get => new(_to, TimeSpan.Zero);
        init => _to = value.UtcTicks;
    }

    /// <summary>Until when it surely carries it, where that is proven; the greatest possible time: until now.</summary>
    public DateTimeOffset SureTo
    {
        get => new(_sureTo, TimeSpan.Zero);
        init => _sureTo = value.UtcTicks;
    }

    /// <summary>Whether records say so, without anything to fill in.</summary>
    public required bool IsProven { get; init; }

    /// <summary>Whether it lasts until now.</summary>
    public bool IsNow => _to == DateTimeOffset.MaxValue.UtcTicks;

    /// <summary>The row that tells of the hop.</summary>
    public EvidenceKey Evidence => new(
        Kind switch
        {
            HopKind.Recorded or HopKind.OneOfSeveral or HopKind.Sublot or HopKind.MixedLot or HopKind.EachOfSeveral => EvidenceKind.Usage,
            HopKind.Installed => EvidenceKind.Installation,
            HopKind.Itself => EvidenceKind.Unit,
            HopKind.ToolUsed => EvidenceKind.ToolUse,
            HopKind.Worked => EvidenceKind.Work,
            HopKind.Measured => EvidenceKind.Measurement,
            HopKind.IntervalEnded => EvidenceKind.Interval,
            HopKind.ToolMissing or HopKind.WorkMissing or HopKind.MeasurementMissing or HopKind.IntervalMissing => EvidenceKind.WorkGap,
            HopKind.ContainerMissing when !IsGapRow => EvidenceKind.Usage,
            _ => EvidenceKind.Gap,
        },
        Unit,
        RowId);

    /// <summary>For a missing container: the row is that of a gap, not the record that names the lot.</summary>
    public bool IsGapRow { get; init; }

    /// <summary>The record names the suspect, but whether the use fits what was asked for can't be told.</summary>
    public bool IsInDoubt { get; init; }

    /// <summary>What is known of the unit; null until a walk has taken it up.</summary>
    internal KnownUnit? Known { get; set; }

    /// <summary>The next way in which the same unit is reached.</summary>
    internal Reach? Next { get; set; }

    // Whether another way that is known says everything that this one says.
    internal bool Covers(Reach other) =>
        _from <= other._from && _to >= other._to && (!other.IsProven || (IsProven && _sureFrom <= other._sureFrom && _sureTo >= other._sureTo));
}

/// <summary>A unit that a suspect reaches or may have reached.</summary>
public readonly record struct ScopeMember
{
    private readonly long _from;
    private readonly long _to;

    private ScopeMember(Reach best, ScopeVerdict? now, DateTimeOffset from, DateTimeOffset to)
    {
        Best = best;
        Now = now;
        _from = from.UtcTicks;
        _to = to.UtcTicks;
    }

    /// <summary>The unit, as item/serial.</summary>
    public string Unit => Best.Unit;

    /// <summary>How sure that is.</summary>
    public ScopeVerdict Verdict => Best.IsProven ? ScopeVerdict.Proven : ScopeVerdict.Possible;

    /// <summary>How sure it is that it carries the suspect now; null: exposed then and clear now.</summary>
    public ScopeVerdict? Now { get; }

    /// <summary>From when on, at the earliest; null: always.</summary>
    public DateTimeOffset? From => _from == DateTimeOffset.MinValue.UtcTicks ? null : new(_from, TimeSpan.Zero);

    /// <summary>Until when, at the latest; null: until now.</summary>
    public DateTimeOffset? To => _to == DateTimeOffset.MaxValue.UtcTicks ? null : new(_to, TimeSpan.Zero);

    /// <summary>The surest way, and of equally sure ones one that lasts until now, then the shortest.</summary>
    public Reach Best { get; }

    /// <summary>The same unit and way, over the time of several ways.</summary>
    /// <param name="now">How sure it is now; null: clear now.</param>
    /// <param name="from">From when on, at the earliest; null: always.</param>
    /// <param name="to">Until when, at the latest; null: until now.</param>
    public ScopeMember Over(ScopeVerdict? now, DateTimeOffset? from, DateTimeOffset? to) =>
        new(Best, now, from ?? DateTimeOffset.MinValue, to ?? DateTimeOffset.MaxValue);

    internal static ScopeMember Of(Reach first)
    {
        var best = first;
        var from = first.From;
        var to = first.To;
        ScopeVerdict? now = null;
        for (var reach = first; reach is not null; reach = reach.Next)
        {
            from = reach.From < from ? reach.From : from;
            to = reach.To > to ? reach.To : to;
            best = IsBetter(reach, best) ? reach : best;
            now = !reach.IsNow ? now : reach.IsProven ? ScopeVerdict.Proven : now ?? ScopeVerdict.Possible;
        }

        return new(best, now, from, to);
    }

    private static bool IsBetter(Reach a, Reach b)
    {
        if (a.IsProven != b.IsProven)
        {
            return a.IsProven;
        }

        return a.IsNow != b.IsNow ? a.IsNow : Depth(a) < Depth(b);
    }

    private static int Depth(Reach reach)
    {
        var depth = 0;
        for (var hop = reach; hop is not null; hop = hop.Via)
        {
            depth++;
        }

        return depth;
    }
}
