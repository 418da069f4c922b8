using Traceability.Domain.Facts;
using Traceability.Domain.Primitives;
using Traceability.Domain.ProductUnits;
using Traceability.Domain.Routings;

namespace Traceability.Domain.Judging;

/// <summary>One completed attempt at a step while its unit is judged.</summary>
internal sealed class Attempt(EffectiveFact source, StepCompleted record, Epoch epoch, StepTrack track, int index)
{
    private int[]? _serves;

    public EffectiveFact Source { get; } = source;

    public StepCompleted Record { get; } = record;

    /// <summary>The revision that it is judged by.</summary>
    public Epoch Epoch { get; } = epoch;

    public StepTrack Track { get; } = track;

    /// <summary>The step's place in the revision; -1 if the revision doesn't have it.</summary>
    public int Index { get; } = index;

    /// <summary>The step's definition; null if the revision doesn't have it.</summary>
    public Step? Step { get; } = index >= 0 ? epoch.Revision!.Steps[index] : null;

    public Guid Id { get; } = source.Id;

    public DateTimeOffset At { get; } = source.At.ToUniversalTime();

    public TimeSpan Uncertainty { get; } = UnitHistory.UncertaintyOf(source);

    public int Number { get; set; }

    public DateTimeOffset? StartedAt { get; set; }

    public TimeSpan StartUncertainty { get; set; }

    /// <summary>The earliest time that anything in it can have happened, the clock's uncertainty taken off.</summary>
    public DateTimeOffset Earliest { get; set; }

    /// <summary>The latest such time.</summary>
    public DateTimeOffset Latest => Instant.Shift(At, Uncertainty);

    /// <summary>The time by which the order of steps is judged.</summary>
    public DateTimeOffset Began => StartedAt is { } started && started < At ? started : At;

    /// <summary>For each recorded tool: the requirement it serves, by place in the step, -1 for none; empty until the tools are judged.</summary>
    public int[] ToolServes { get; set; } = [];

    /// <summary>For each measured value: whether it is within its limits, null where that is not judged or not shown; empty until they are judged.</summary>
    public bool?[] MeasuredWithin { get; set; } = [];

    public bool WhileHeld { get; set; }

    public bool AfterEnd { get; set; }

    public int Defects { get; set; }

    public int Opportunities { get; set; }

    /// <summary>Something that it should have shown was not shown, without being shown wrong.</summary>
    public bool IsUnproven { get; set; }

    public bool IsPassed => Defects == 0;

    public bool IsProven => Defects == 0 && !IsUnproven;

    /// <summary>For each recorded material: the requirement it serves, by place in the step; see <see cref="MaterialAssignment"/>.</summary>
    public int[] Serves(UnitHistory history) => _serves ??= MaterialAssignment.Of(history, this);
}

/// <summary>What is recorded of one step of a unit.</summary>
internal sealed class StepTrack(StepCode step)
{
    public StepCode Step { get; } = step;

    /// <summary>Attempts that count, by completion.</summary>
    public List<Attempt> Attempts { get; } = [];

    /// <summary>Reported starts that count, by time.</summary>
    public List<EffectiveFact> Starts { get; } = [];

    /// <summary>Completions that are void.</summary>
    public List<Attempt> Voided { get; } = [];

    /// <summary>A start after the last completion; null if there is none.</summary>
    public EffectiveFact? PendingStart =>
        Starts.Count > 0 && (Attempts.Count == 0 || Starts[^1].At > Attempts[^1].At) ? Starts[^1] : null;
}

/// <summary>The time over which one revision holds for the unit.</summary>
internal sealed class Epoch(int number, RevisionIndex? revision, ImmutableArray<StepCode> carriesOver, DateTimeOffset from)
{
    private readonly sbyte[] _applies = new sbyte[revision?.Steps.Length ?? 0];

    public int Number { get; } = number;

    public RevisionIndex? Revision { get; } = revision;

    /// <summary>From when on; the least possible time for the first.</summary>
    public DateTimeOffset From { get; } = from;

    /// <summary>Steps whose earlier records stay valid from here on.</summary>
    public ImmutableArray<StepCode> CarriesOver { get; } = carriesOver;

    /// <summary>What is recorded of each step of the revision; null for nothing.</summary>
    public StepTrack?[] Tracks { get; } = new StepTrack?[revision?.Steps.Length ?? 0];

    /// <summary>Whether the unit has the step.</summary>
    public bool HasStep(UnitHistory history, int index)
    {
        if (_applies[index] == 0)
        {
            _applies[index] = (sbyte)(history.Applies(Revision!.Steps[index].AppliesTo) ? 1 : -1);
        }

        return _applies[index] > 0;
    }
}
