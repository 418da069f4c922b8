using System.Runtime.CompilerServices;
using Traceability.Domain.Primitives;
using Traceability.Domain.Routings;

namespace Traceability.Domain.Judging;

/// <summary>An interval rule with the places of its steps in the revision.</summary>
internal sealed record IndexedInterval(IntervalRule Rule, int From, int To);

/// <summary>A revision prepared for judging: made once for each revision, since a revision never changes after its release.</summary>
internal sealed class RevisionIndex
{
    private static readonly ConditionalWeakTable<RoutingRevision, RevisionIndex> Cache = [];

    private readonly Dictionary<StepCode, int> _indexOf = [];

    private RevisionIndex(RoutingRevision revision)
    {
        Revision = revision;
        Steps = [.. revision.Steps.OrEmpty()];
        for (var i = 0; i < Steps.Length; i++)
        {
            _indexOf.TryAdd(Steps[i].Code, i);
        }

        Prerequisites = [.. Steps.Select(s => Find(s.Prerequisites))];
        Hidden = [.. Steps.Select(HiddenBy)];
        Needed = Closure();
        Intervals =
        [
            .. revision.Intervals.OrEmpty()
                .Select(r => new IndexedInterval(r, IndexOf(r.From.Step), IndexOf(r.To.Step)))
                .Where(r => r.From >= 0 && r.To >= 0),
        ];
        IntervalsTo = [.. Steps.Select((_, i) => Intervals.Where(r => r.To == i).ToArray())];
    }

    public RoutingRevision Revision { get; }

    public Step[] Steps { get; }

    /// <summary>For each step: which must be done and passed before it starts.</summary>
    public int[][] Prerequisites { get; }

    /// <summary>For each step: which must be proven before it starts, since they can't be seen afterwards.</summary>
    public int[][] Hidden { get; }

    /// <summary>For each step: all that it needs, directly or through others.</summary>
    public int[][] Needed { get; }

    public IndexedInterval[] Intervals { get; }

    /// <summary>For each step: the interval rules that end at it.</summary>
    public IndexedInterval[][] IntervalsTo { get; }

    public static RevisionIndex Of(RoutingRevision revision) => Cache.GetValue(revision, static r => new(r));

    /// <summary>The place of the step; -1 if the revision doesn't have it.</summary>
    public int IndexOf(StepCode step) => _indexOf.GetValueOrDefault(step, -1);

    /// <summary>The requirement for a position, and the step that has it; null if none has.</summary>
    public (Step Step, ComponentRequirement Requirement)? FindPosition(Code position)
    {
        foreach (var step in Steps)
        {
            foreach (var requirement in step.Components.OrEmpty())
            {
                if (requirement.Position == position)
                {
                    return (step, requirement);
                }
            }
        }

        return null;
    }

    private int[] HiddenBy(Step step, int index) =>
        !step.Hides.IsDefaultOrEmpty ? Find(step.Hides) : step.IsPointOfNoReturn ? [.. Enumerable.Range(0, index)] : [];

    private int[] Find(ImmutableArray<StepCode> codes) =>
        [.. codes.OrEmpty().Select(IndexOf).Where(i => i >= 0).Distinct()];

    // A routing that runs in a circle is refused when it is drafted; here it only must not run for ever.
    private int[][] Closure()
    {
        var needed = new SortedSet<int>[Steps.Length];
        for (var i = 0; i < Steps.Length; i++)
        {
            needed[i] = [];
            var open = new Stack<int>(Prerequisites[i].Concat(Hidden[i]));
            while (open.TryPop(out var next))
            {
                if (next != i && needed[i].Add(next))
                {
                    foreach (var further in Prerequisites[next].Concat(Hidden[next]))
                    {
                        open.Push(further);
                    }
                }
            }
        }

        return [.. needed.Select(n => n.ToArray())];
    }
}
