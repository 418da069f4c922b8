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
    /// <summary>The unit that is reached.</summary>
    public string Unit { get; } = unit;

    /// <summary>The last hop.</summary>
    public HopKind Kind { get; } = kind;

    /// <summary>The row of <see cref="Unit"/> that tells of the hop.</summary>
    public long RowId { get; } = rowId;

    /// <summary>How the suspect reached the unit inside; null for the first hop.</summary>
    public Reach? Via { get; } = via;

    /// <summary>From when on the unit carries the suspect, at the earliest; the least possible time: always.</summary>
    public required DateTimeOffset From { get; init; }

    /// <summary>From when on it carries it at the latest, where that is proven.</summary>
    public required DateTimeOffset SureFrom { get; init; }

    /// <summary>Until when it carries it, this time left out; the greatest possible time: until now.</summary>
    public required DateTimeOffset To { get; init; }

    /// <summary>Until when it surely carries it, where that is proven; the greatest possible time: until now.</summary>
    public DateTimeOffset SureTo { get; init; } = DateTimeOffset.MaxValue;

    /// <summary>Whether records say so, without anything to fill in.</summary>
    public required bool IsProven { get; init; }

    /// <summary>Whether it lasts until now.</summary>
    public bool IsNow => To == DateTimeOffset.MaxValue;

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
        From <= other.From && To >= other.To && (!other.IsProven || (IsProven && SureFrom <= other.SureFrom && SureTo >= other.SureTo));
}

/// <summary>A unit that a suspect reaches or may have reached.</summary>
/// <param name="Unit">The unit, as item/serial.</param>
/// <param name="Verdict">How sure that is.</param>
/// <param name="Now">How sure it is that it carries the suspect now; null: exposed then and clear now.</param>
/// <param name="From">From when on, at the earliest; null: always.</param>
/// <param name="To">Until when, at the latest; null: until now.</param>
/// <param name="Best">The surest way, and of equally sure ones one that lasts until now, then the shortest.</param>
public sealed record ScopeMember(
    string Unit, ScopeVerdict Verdict, ScopeVerdict? Now, DateTimeOffset? From, DateTimeOffset? To, Reach Best)
{
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

        return new(
            best.Unit,
            best.IsProven ? ScopeVerdict.Proven : ScopeVerdict.Possible,
            now,
            from == DateTimeOffset.MinValue ? null : from,
            to == DateTimeOffset.MaxValue ? null : to,
            best);
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
