using System.Diagnostics.CodeAnalysis;
using Traceability.Domain.Primitives;
using Traceability.Domain.ProductUnits;
using Traceability.Domain.Routings;

namespace Traceability.Domain.Judging;

/// <summary>What a move of a unit to another revision comes to.</summary>
public enum MoveVerdict
{
    /// <summary>It can move: what carries over and what is to be done again is told.</summary>
    CanMove,

    /// <summary>It is under that revision already.</summary>
    AlreadyThere,

    /// <summary>It can't: the blocks say why.</summary>
    CannotMove,
}

/// <summary>Why a unit can't move.</summary>
public enum MoveBlock
{
    /// <summary>No revision applies to it now, so there is nothing to compare with.</summary>
    NoRevision,

    /// <summary>It is not being built: released, shipped, scrapped or returned.</summary>
    NotInProcess,

    /// <summary>The revision is for other variants or options.</summary>
    NotForUnit,

    /// <summary>A point of no return is passed that would have to be done again.</summary>
    PointOfNoReturnPassed,

    /// <summary>A stored record of it, or of what it is judged by, can't be read.</summary>
    Unreadable,
}

/// <summary>One reason why a unit can't move.</summary>
/// <param name="Kind">What kind of reason.</param>
/// <param name="Step">The step; null for a reason that concerns the unit as a whole.</param>
/// <param name="Message">For a person.</param>
public sealed record MoveObstacle(MoveBlock Kind, StepCode? Step, string Message);

/// <summary>One completed step and what becomes of it.</summary>
/// <param name="Step">The step.</param>
/// <param name="Attempt">The attempt that counts now.</param>
/// <param name="Passed">Whether that attempt passed.</param>
/// <param name="Why">For a step to be done again: each reason, for a person.</param>
public sealed record MovedStep(StepCode Step, int Attempt, bool Passed, ImmutableArray<string> Why);

/// <summary>What moving one unit to another revision comes to, by rule. A person decides by it; nothing is stored.</summary>
/// <param name="Unit">The unit.</param>
/// <param name="Version">The unit's version that this is told of.</param>
/// <param name="From">The revision that applies now; null if none does.</param>
/// <param name="To">The revision to move to.</param>
/// <param name="Verdict">Whether it can move.</param>
/// <param name="CarriesOver">Completed steps that stay valid.</param>
/// <param name="Again">Completed steps that must be done again.</param>
/// <param name="Dropped">Completed steps that the new revision does not ask of this unit.</param>
/// <param name="Open">Steps of the new revision that are not done.</param>
/// <param name="Obstacles">Why it can't move.</param>
/// <param name="Notes">What else to know before deciding.</param>
public sealed record RevisionMovePlan(
    UnitKey Unit,
    int Version,
    RevisionCode? From,
    RevisionCode To,
    MoveVerdict Verdict,
    ImmutableArray<MovedStep> CarriesOver,
    ImmutableArray<MovedStep> Again,
    ImmutableArray<StepCode> Dropped,
    ImmutableArray<StepCode> Open,
    ImmutableArray<MoveObstacle> Obstacles,
    ImmutableArray<string> Notes);

/// <summary>Plans the move of a unit in process to another revision.</summary>
/// <remarks>
/// A completed step carries over when nothing that either revision asks of it differs, nor of any step that it needs or
/// hides, directly or through others: what was done on top of something that is to be done again can't stand. A point of
/// no return that would not carry over can't be done again, so the unit can't move. The rule looks at what was asked, not
/// at how it went: a failed attempt that carries over stays failed, and is repeated as before.
/// </remarks>
public static class RevisionMove
{
    /// <summary>The plan. Total: a unit that can't be planned for is told as one that can't move.</summary>
    /// <param name="unit">The unit.</param>
    /// <param name="references">What it is judged by.</param>
    /// <param name="to">A released revision of its item.</param>
    [SuppressMessage("Design", "CA1031:Do not catch general exception types", Justification = "One unit that can't be judged must not hide the plan of the others.")]
    public static RevisionMovePlan Plan(ProductUnit unit, IReferences references, RoutingRevision to)
    {
        ArgumentNullException.ThrowIfNull(unit);
        ArgumentNullException.ThrowIfNull(references);
        ArgumentNullException.ThrowIfNull(to);
        try
        {
            return Planned(unit, references, to);
        }
        catch (Exception defect)
        {
            return new(unit.Key, unit.Version, null, to.Revision, MoveVerdict.CannotMove, [], [], [], [], [new(MoveBlock.Unreadable, null, NotJudged.Say(defect))], []);
        }
    }

    private static RevisionMovePlan Planned(ProductUnit unit, IReferences references, RoutingRevision to)
    {
        var history = UnitHistory.Of(unit, references);
        Judge.Attempts(history, new FindingSink());
        var from = history.Current.Revision;
        if (from is not null && from.Revision.Revision == to.Revision)
        {
            return new(unit.Key, unit.Version, to.Revision, to.Revision, MoveVerdict.AlreadyThere, [], [], [], [], [], []);
        }

        var obstacles = ImmutableArray.CreateBuilder<MoveObstacle>();
        OfUnit(history, to, obstacles);
        if (from is null)
        {
            obstacles.Add(new(MoveBlock.NoRevision, null, "No revision applies to the unit now, so what is done can't be compared with anything."));
            return new(unit.Key, unit.Version, null, to.Revision, MoveVerdict.CannotMove, [], [], [], [], obstacles.ToImmutable(), []);
        }

        return new Comparison(history, from, RevisionIndex.Of(to)).Plan(obstacles);
    }

    private static void OfUnit(UnitHistory history, RoutingRevision to, ImmutableArray<MoveObstacle>.Builder obstacles)
    {
        if (history.Opening is null || history.HasEnded || history.Departures.Count > 0)
        {
            obstacles.Add(new(MoveBlock.NotInProcess, null, "The unit is not being built: it was released, shipped, scrapped or never opened."));
        }

        // A move is a decision about serials and dates, not about what the unit is.
        if (!history.Applies(to.Effectivity with { SerialFrom = null, SerialTo = null, OpenedFrom = null, OpenedBefore = null }))
        {
            obstacles.Add(new(MoveBlock.NotForUnit, null, $"Revision {to.Revision} is for {RoutingWords.Effective(to.Effectivity)}, which the unit is not."));
        }

        foreach (var stream in Uncertainty.Of(history))
        {
            obstacles.Add(new(MoveBlock.Unreadable, null, Uncertainty.Say(stream)));
        }
    }

    private sealed class Comparison(UnitHistory history, RevisionIndex from, RevisionIndex to)
    {
        private readonly Epoch _target = new(0, to, [], DateTimeOffset.MinValue);
        private readonly Dictionary<StepCode, ImmutableArray<string>> _changes = Changes(from, to);

        public RevisionMovePlan Plan(ImmutableArray<MoveObstacle>.Builder obstacles)
        {
            var carried = ImmutableArray.CreateBuilder<MovedStep>();
            var again = ImmutableArray.CreateBuilder<MovedStep>();
            var dropped = ImmutableArray.CreateBuilder<StepCode>();
            var done = new HashSet<StepCode>();
            for (var i = 0; i < from.Steps.Length; i++)
            {
                var step = from.Steps[i];
                if (history.LastDone(history.Current, i, DateTimeOffset.MaxValue) is not { } attempt)
                {
                    continue;
                }

                done.Add(step.Code);
                var index = to.IndexOf(step.Code);
                if (index < 0 || !_target.HasStep(history, index))
                {
                    dropped.Add(step.Code);
                    PassedForGood(step, index, [$"Revision {to.Revision.Revision} does not have it on this unit."], obstacles);
                    continue;
                }

                var why = Why(index);
                var moved = new MovedStep(step.Code, attempt.Number, attempt.IsPassed, why);
                (why.IsEmpty ? carried : again).Add(moved);
                if (!why.IsEmpty)
                {
                    PassedForGood(step, index, why, obstacles);
                }
            }

            var carries = carried.Select(c => c.Step).ToHashSet();
            return new(
                history.Unit.Key,
                history.Unit.Version,
                from.Revision.Revision,
                to.Revision.Revision,
                obstacles.Count == 0 ? MoveVerdict.CanMove : MoveVerdict.CannotMove,
                carried.ToImmutable(),
                again.ToImmutable(),
                dropped.ToImmutable(),
                [.. to.Steps.Where((s, i) => _target.HasStep(history, i) && !carries.Contains(s.Code)).Select(s => s.Code)],
                obstacles.ToImmutable(),
                [.. Notes(done)]);
        }

        // A step that was a point of no return when it was done, or is one now.
        private void PassedForGood(Step step, int index, ImmutableArray<string> why, ImmutableArray<MoveObstacle>.Builder obstacles)
        {
            if (step.IsPointOfNoReturn || (index >= 0 && to.Steps[index].IsPointOfNoReturn))
            {
                obstacles.Add(new(
                    MoveBlock.PointOfNoReturnPassed,
                    step.Code,
                    $"Step {step.Code} is a point of no return and is done; under revision {to.Revision.Revision} it would not stand: {string.Join(" ", why)}"));
            }
        }

        private ImmutableArray<string> Why(int index)
        {
            var own = _changes.GetValueOrDefault(to.Steps[index].Code, []);
            return
            [
                .. own,
                .. to.Needed[index]
                    .Where(n => _target.HasStep(history, n) && _changes.ContainsKey(to.Steps[n].Code))
                    .Select(n => $"It builds on step {to.Steps[n].Code}, which differs."),
            ];
        }

        private IEnumerable<string> Notes(HashSet<StepCode> done)
        {
            foreach (var track in history.Tracks)
            {
                if (track.PendingStart is not null)
                {
                    yield return $"Step {track.Step} is started and not completed: it will be judged by revision {to.Revision.Revision}.";
                }
            }

            if (history.IsHeld)
            {
                yield return "The unit is on hold; a move does not lift the hold.";
            }

            if (history.OpenedAt is { } at && !to.Revision.Effectivity.AppliesTo(history.Unit.Key.Serial, history.Variant, history.Options, at))
            {
                yield return $"By serial and date revision {to.Revision.Revision} is for {RoutingWords.Effective(to.Revision.Effectivity)}; the move is what makes it apply to this unit.";
            }

            foreach (var track in history.Tracks)
            {
                if (track.Attempts.Count > 0 && !done.Contains(track.Step))
                {
                    yield return $"Step {track.Step} is recorded and does not count under revision {from.Revision.Revision}; it will not count under revision {to.Revision.Revision} either.";
                }
            }
        }

        /// <summary>For each step that differs: in what.</summary>
        private static Dictionary<StepCode, ImmutableArray<string>> Changes(RevisionIndex from, RevisionIndex to)
        {
            var changes = new Dictionary<StepCode, ImmutableArray<string>>();
            foreach (var change in RevisionDifferences.Between(from.Revision, to.Revision))
            {
                if (change.Step is { } step)
                {
                    Add(step, change.Sentence);
                }
                else if (change.Part == RevisionPart.Interval)
                {
                    foreach (var of in OfInterval(from, change.Code).Concat(OfInterval(to, change.Code)).Distinct())
                    {
                        Add(of, change.Sentence);
                    }
                }
            }

            // A point of no return without a list hides what comes before it, which changes with the order.
            for (var i = 0; i < to.Steps.Length; i++)
            {
                var before = from.IndexOf(to.Steps[i].Code);
                if (before >= 0 && !from.Hidden[before].Select(h => from.Steps[h].Code).ToHashSet().SetEquals(to.Hidden[i].Select(h => to.Steps[h].Code)))
                {
                    Add(to.Steps[i].Code, $"Step {to.Steps[i].Code} hides other steps than before.");
                }
            }

            return changes;

            void Add(StepCode step, string sentence) => changes[step] = changes.GetValueOrDefault(step, []).Add(sentence);
        }

        // The step that an interval ends at is judged by it; the one that it starts at must hold the mark or container.
        private static IEnumerable<StepCode> OfInterval(RevisionIndex revision, string code)
        {
            foreach (var indexed in revision.Intervals.Where(r => r.Rule.Code.ToString() == code))
            {
                yield return indexed.Rule.To.Step;
                if (indexed.Rule.From.Kind is MilestoneKind.Mark or MilestoneKind.ContainerOpened)
                {
                    yield return indexed.Rule.From.Step;
                }
            }
        }
    }
}
