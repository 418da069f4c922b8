using Traceability.Domain.Facts;
using Traceability.Domain.Primitives;
using Traceability.Domain.ProductUnits;
using Traceability.Domain.Routings;

namespace Traceability.Domain.Judging;

/// <summary>Components: right item, known, released, not held, not in another place at the time.</summary>
internal static class ComponentRules
{
    /// <summary>Judges the components of a step's completion, and whether its positions are filled.</summary>
    public static void Judge(UnitHistory history, Attempt attempt, FindingSink sink)
    {
        foreach (var requirement in attempt.Step!.Components.OrEmpty())
        {
            if (!history.Applies(requirement.AppliesTo))
            {
                continue;
            }

            attempt.Opportunities++;
            if (!IsFilled(history, attempt, requirement.Position))
            {
                sink.Add(attempt, FindingKinds.ComponentNotRecorded, requirement.Position.ToString(), requirement.Policy, $"No serial of {requirement.Item} is recorded at position {requirement.Position}.", ("required", requirement.Item.ToString()));
            }
        }

        foreach (var use in attempt.Record.Components.OrEmpty())
        {
            JudgeOne(history, new(sink, attempt, attempt.Source, attempt.Record.Step, attempt.Epoch), use.Position, use.Component);
        }
    }

    /// <summary>Judges what was put in or taken out outside a step's completion, and what was displaced.</summary>
    public static void JudgeRest(UnitHistory history, FindingSink sink)
    {
        foreach (var fact in history.ComponentFacts)
        {
            if (fact.Fact is ComponentInstalled installed)
            {
                JudgeOne(history, new(sink, null, fact, installed.Step, EpochAt(history, fact)), installed.Position, installed.Component);
            }
        }

        foreach (var removal in history.Installed.StrayRemovals)
        {
            var removed = (ComponentRemoved)removal.Fact;
            sink.Add(removal, null, FindingKinds.ComponentRemovedNotInstalled, removed.Position.ToString(), null, $"{removed.Component} was taken out of position {removed.Position}, where no record put it.", ("component", removed.Component.ToString()));
        }
    }

    /// <summary>Components that another took the place of, with no removal recorded: found on the record of the other.</summary>
    public static void JudgeDisplaced(UnitHistory history, FindingSink sink)
    {
        foreach (var inside in history.Installed.Fitted)
        {
            if (inside.DisplacedBy is { } next)
            {
                new Context(sink, next.Attempt, next.Source, next.Step, history.Current).Add(
                    FindingKinds.ComponentNotRemoved,
                    inside.Position,
                    null,
                    $"{next.Component} was put in at position {inside.Position}, where {inside.Component} was; no removal is recorded.",
                    ("component", inside.Component.ToString()));
            }
        }
    }

    private static bool IsFilled(UnitHistory history, Attempt attempt, Code position)
    {
        foreach (var use in attempt.Record.Components.OrEmpty())
        {
            if (use.Position == position && use.Component != default)
            {
                return true;
            }
        }

        return history.Installed.At(position, attempt.At) is not null;
    }

    private static Epoch EpochAt(UnitHistory history, EffectiveFact fact)
    {
        var epoch = history.Epochs[0];
        if (history.Epochs.Count > 1)
        {
            var moves = 0;
            foreach (var other in history.Facts)
            {
                if (other == fact)
                {
                    break;
                }

                moves += other is { IsVoided: false, Fact: UnitMovedToRevision } && !history.FailedMoves.Contains(other) ? 1 : 0;
            }

            epoch = history.Epochs[moves];
        }

        return epoch;
    }

    private static void JudgeOne(UnitHistory history, Context found, Code position, UnitKey component)
    {
        if (found.Epoch.Revision is not { } revision)
        {
            return;
        }

        var policy = (RulePolicy?)null;
        var mustBeReleased = false;
        if (revision.FindPosition(position) is not { } place || !history.Applies(place.Requirement.AppliesTo))
        {
            found.Add(FindingKinds.ComponentNotRequired, position, null, $"Revision {revision.Revision.Revision} has no position {position} on this unit.", ("component", component.ToString()));
        }
        else
        {
            policy = place.Requirement.Policy;
            mustBeReleased = place.Requirement.MustBeReleased;
            if (component.Item != place.Requirement.Item
                && !place.Requirement.Alternatives.OrEmpty().Contains(component.Item)
                && history.References.FindRouting(history.Unit.Key.Item)?.FindReplacement(component.Item, place.Requirement, revision.Revision.Revision, found.At) is null)
            {
                found.Add(
                    FindingKinds.ComponentWrongItem,
                    position,
                    policy,
                    $"{component} was put in at position {position}, which takes {place.Requirement.Item}.",
                    ("component", component.ToString()),
                    ("required", place.Requirement.Item.ToString()));
            }
        }

        JudgeState(history, found, position, component, policy, mustBeReleased);
        JudgeElsewhere(history, found, position, component, policy);
    }

    private static void JudgeState(UnitHistory history, Context found, Code position, UnitKey component, RulePolicy? policy, bool mustBeReleased)
    {
        if (history.References.FindUnit(component) is not { } unit)
        {
            found.Add(FindingKinds.ComponentUnknown, position, policy, $"{component} is not known here.", ("component", component.ToString()));
            return;
        }

        var (isReleased, isHeld, isGone) = StateAt(unit, found.At);
        if (isGone is { } gone)
        {
            found.Add(FindingKinds.ComponentNotOnSite, position, policy, $"{component} was {(gone == Place.Shipped ? "shipped" : "scrap")} when it was put in.", ("component", component.ToString()), ("at", Say.Time(found.At)));
        }

        if (mustBeReleased && !isReleased)
        {
            found.Add(FindingKinds.ComponentNotReleased, position, policy, $"{component} was not released when it was put in.", ("component", component.ToString()), ("at", Say.Time(found.At)));
        }

        if (isHeld)
        {
            found.Add(FindingKinds.ComponentHeld, position, policy, $"{component} was on hold when it was put in.", ("component", component.ToString()), ("at", Say.Time(found.At)));
        }
    }

    private static (bool IsReleased, bool IsHeld, Place? Gone) StateAt(ProductUnit unit, DateTimeOffset at)
    {
        var isReleased = false;
        var holds = default(StandingHolds);
        var gone = (Place?)null;
        foreach (var fact in unit.Effective)
        {
            if (fact.At > at)
            {
                break;
            }

            if (fact.IsVoided)
            {
                continue;
            }

            switch (fact.Fact)
            {
                case UnitReleased:
                    isReleased = true;
                    gone = gone == Place.Shipped ? null : gone;
                    break;
                case UnitScrapped:
                    isReleased = false;
                    gone = Place.Scrapped;
                    break;
                case UnitShipped:
                    gone ??= Place.Shipped;
                    break;
                case UnitReturned:
                    gone = gone == Place.Shipped ? null : gone;
                    break;
                case UnitHeld or UnitHoldLifted:
                    holds.Take(fact.Fact);
                    break;
            }
        }

        return (isReleased, holds.IsAny, gone);
    }

    private static void JudgeElsewhere(UnitHistory history, Context found, Code position, UnitKey component, RulePolicy? policy)
    {
        foreach (var other in history.References.InstallationsOf(component))
        {
            // This unit's own records are judged as they are now, not as they were stored.
            if (other.Parent != history.Unit.Key && other.From <= found.At && (other.To is not { } to || to > found.At))
            {
                found.Add(
                    FindingKinds.ComponentElsewhere,
                    position,
                    policy,
                    $"{component} is recorded inside {other.Parent} at that time.",
                    ("component", component.ToString()),
                    ("parent", other.Parent.ToString()));
                return;
            }
        }

        foreach (var own in history.Installed.Fitted)
        {
            if (own.Component == component && own.Position != position && own.Covers(found.At))
            {
                found.Add(
                    FindingKinds.ComponentElsewhere,
                    position,
                    policy,
                    $"{component} is recorded at position {own.Position} of this unit at that time.",
                    ("component", component.ToString()),
                    ("position", own.Position.ToString()));
                return;
            }
        }
    }

    // Where a finding on a component goes: to the attempt that put it in, or to the fact alone.
    private readonly record struct Context(FindingSink Sink, Attempt? Attempt, EffectiveFact Source, StepCode? Step, Epoch Epoch)
    {
        public DateTimeOffset At => Attempt?.At ?? Source.At.ToUniversalTime();

        public void Add(string kind, Code position, RulePolicy? policy, string message, params ReadOnlySpan<(string Name, string Text)> evidence)
        {
            if (Attempt is not null)
            {
                Sink.Add(Attempt, kind, position.ToString(), policy, message, evidence);
            }
            else
            {
                Sink.Add(Source, Step, kind, position.ToString(), policy, message, evidence);
            }
        }
    }
}
