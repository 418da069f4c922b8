using System.Diagnostics.CodeAnalysis;
using Traceability.Domain.Facts;
using Traceability.Domain.Primitives;
using Traceability.Domain.ProductUnits;
using Traceability.Domain.Routings;

namespace Traceability.Domain.Judging;

/// <summary>Judges a step before it is done, by the rules that judge it afterwards.</summary>
/// <remarks>
/// The step is judged as if it were recorded at the moment asked. Rules that need the work's result (characteristics,
/// quantities, defects) have nothing to say yet.
/// </remarks>
public static class Readiness
{
    /// <summary>Answers go, wait or no, with every reason at once. Total: never throws.</summary>
    [SuppressMessage("Design", "CA1031:Do not catch general exception types", Justification = "Whoever asks gets an answer: that nothing is known is no.")]
    public static ReadinessAnswer Ask(ProductUnit unit, IReferences references, ReadinessQuestion question)
    {
        ArgumentNullException.ThrowIfNull(unit);
        ArgumentNullException.ThrowIfNull(references);
        ArgumentNullException.ThrowIfNull(question);
        try
        {
            return Judged(unit, references, question);
        }
        catch (Exception defect)
        {
            return new(question.Step, ReadinessVerdict.No, null, null, [Stop(FindingKinds.UnitNotJudged, string.Empty, NotJudged.Say(defect))], null, 0, null);
        }
    }

    private static ReadinessAnswer Judged(ProductUnit unit, IReferences references, ReadinessQuestion question)
    {
        var history = UnitHistory.Of(unit, references);
        Judge.Attempts(history, new FindingSink());
        var attempt = Hypothetical(history, question);
        var sink = new FindingSink();
        OrderRules.Judge(history, attempt, sink);
        if (attempt.Step is not null)
        {
            MaterialRules.Judge(history, attempt, sink);
            ComponentRules.Judge(history, attempt, sink);
            ToolRules.Judge(history, attempt, sink);
            PersonRules.Judge(history, attempt, sink);
        }

        var reasons = ImmutableArray.CreateBuilder<ReadinessReason>();
        OfUnreadable(history, attempt.Record, reasons);
        foreach (var finding in sink.Findings)
        {
            if (AsReason(finding, question) is { } reason)
            {
                reasons.Add(reason);
            }
        }

        Displaced(history, attempt, reasons);
        DateTimeOffset? earliest = null;
        var assumptions = ImmutableArray.CreateBuilder<string>();
        var deadlines = ImmutableArray.CreateBuilder<IntervalDeadline>();
        if (attempt.Step is not null)
        {
            earliest = ReadinessIntervals.Judge(history, attempt, reasons, assumptions, deadlines);
        }

        return Answer(history, attempt, reasons.ToImmutable(), earliest) with
        {
            Assumptions = assumptions.ToImmutable(),
            Lives = MixRules.Lives(history, attempt),
            Deadlines = deadlines.ToImmutable(),
        };
    }

    /// <summary>
    /// Steps that could come next, in the order of the routing: they apply to the unit, have not passed, and what they need has.
    /// Empty once the unit has ended, and while no revision applies.
    /// </summary>
    [SuppressMessage("Design", "CA1031:Do not catch general exception types", Justification = "The judgement beside it says that the unit could not be judged.")]
    public static ImmutableArray<StepCode> NextSteps(ProductUnit unit, IReferences references)
    {
        ArgumentNullException.ThrowIfNull(unit);
        ArgumentNullException.ThrowIfNull(references);
        try
        {
            return Next(unit, references);
        }
        catch (Exception)
        {
            return [];
        }
    }

    private static ImmutableArray<StepCode> Next(ProductUnit unit, IReferences references)
    {
        var history = UnitHistory.Of(unit, references);
        if (history.HasEnded || history.Opening is null || history.Current.Revision is not { } revision)
        {
            return [];
        }

        Judge.Attempts(history, new FindingSink());
        var next = ImmutableArray.CreateBuilder<StepCode>();
        for (var i = 0; i < revision.Steps.Length; i++)
        {
            if (history.Current.HasStep(history, i) && Last(history, i) is not { IsPassed: true }
                && revision.Prerequisites[i].All(p => p == i || !history.Current.HasStep(history, p) || Last(history, p) is { IsPassed: true })
                && revision.Hidden[i].All(p => p == i || !history.Current.HasStep(history, p) || Last(history, p) is { IsProven: true }))
            {
                next.Add(revision.Steps[i].Code);
            }
        }

        return next.ToImmutable();
    }

    /// <summary>The record that the question is judged as; <see cref="Dependencies.Add"/> tells what must be loaded for it.</summary>
    public static StepCompleted AsRecord(UnitKey unit, ReadinessQuestion question)
    {
        ArgumentNullException.ThrowIfNull(question);
        return new(
            unit, question.Step, question.At, false, [], question.Materials.OrEmpty(), question.Tools.OrEmpty(), [], [], question.Components.OrEmpty(), [], null)
        {
            OccurredAt = question.At.ToUniversalTime(),
            Station = question.Station,
            Person = question.Person,
            Supervisor = question.Supervisor,
        };
    }

    private static Attempt? Last(UnitHistory history, int index) => history.LastStanding(history.Current, index, DateTimeOffset.MaxValue);

    /// <summary>The attempt that the question is about, as if it were made.</summary>
    internal static Attempt Hypothetical(UnitHistory history, ReadinessQuestion question)
    {
        var at = question.At.ToUniversalTime();
        var record = AsRecord(history.Unit.Key, question);
        var track = history.FindTrack(question.Step) ?? new StepTrack(question.Step);
        var epoch = history.Current;
        return new(new(Guid.Empty, record, at, IsVoided: false, []), record, epoch, track, epoch.Revision?.IndexOf(question.Step) ?? -1)
        {
            Number = track.Attempts.Count + 1,
            StartedAt = at,
            Earliest = at,
            WhileHeld = history.IsHeld,
            AfterEnd = history.HasEnded,
        };
    }

    private static void OfUnreadable(UnitHistory history, StepCompleted asked, ImmutableArray<ReadinessReason>.Builder reasons)
    {
        foreach (var stream in Uncertainty.Of(history, asked))
        {
            reasons.Add(string.Equals(stream, StreamNames.Of(history.Unit.Key), StringComparison.Ordinal)
                ? Stop(FindingKinds.RecordUnreadable, string.Empty, "A record of this unit can't be read, so what it needs may be incomplete.")
                : Stop(FindingKinds.ReferenceUnreadable, stream, Uncertainty.Say(stream)));
        }
    }

    private static ReadinessReason Stop(string kind, string rule, string message) =>
        new(kind, rule, message, Policies.For(kind).Enforcement, null);

    private static ReadinessReason? AsReason(Finding finding, ReadinessQuestion question)
    {
        // What is missing from an offer stops; where nothing was offered yet, the needs are listed and nothing is missing.
        var stops = finding.Policy.Enforcement;
        switch (finding.Kind)
        {
            case FindingKinds.QuantityNotRecorded:
                return null;
            case FindingKinds.MaterialNotRecorded when question.Materials.IsDefaultOrEmpty:
            case FindingKinds.ToolNotRecorded when question.Tools.IsDefaultOrEmpty:
            case FindingKinds.ComponentNotRecorded when question.Components.IsDefaultOrEmpty:
                return null;
            case FindingKinds.MaterialNotRecorded or FindingKinds.ToolNotRecorded or FindingKinds.ComponentNotRecorded:
                stops = Enforcement.Stop;
                break;
        }

        var message = finding.Kind switch
        {
            FindingKinds.WorkedOnWhileHeld => "The unit is on hold.",
            FindingKinds.WorkedOnAfterEnd => "The unit has been released, shipped or scrapped.",
            _ => finding.Message,
        };
        return new(finding.Kind, finding.Rule, message, stops, null);
    }

    private static void Displaced(UnitHistory history, Attempt attempt, ImmutableArray<ReadinessReason>.Builder reasons)
    {
        foreach (var use in attempt.Record.Components)
        {
            if (history.Installed.At(use.Position, attempt.At) is { } inside && inside.Component != use.Component)
            {
                reasons.Add(new(
                    FindingKinds.ComponentNotRemoved,
                    use.Position.ToString(),
                    $"{inside.Component} is recorded at position {use.Position}; record its removal first.",
                    Policies.For(FindingKinds.ComponentNotRemoved).Enforcement,
                    null));
            }
        }
    }

    private static ReadinessAnswer Answer(
        UnitHistory history, Attempt attempt, ImmutableArray<ReadinessReason> reasons, DateTimeOffset? earliest)
    {
        DateTimeOffset? until = null;
        var stopped = false;
        foreach (var reason in reasons)
        {
            if (reason.Enforcement == Enforcement.Stop)
            {
                stopped |= reason.Until is null;
                until = reason.Until is { } other && (until is null || other > until) ? other : until;
            }
        }

        var verdict = stopped ? ReadinessVerdict.No : until is null ? ReadinessVerdict.Go : ReadinessVerdict.Wait;
        return new(
            attempt.Record.Step,
            verdict,
            verdict == ReadinessVerdict.Wait ? until : null,
            earliest,
            reasons,
            history.Current.Revision?.Revision.Revision,
            attempt.Number,
            attempt.Step is { } step ? Needs(history, attempt, step) : null);
    }

    private static StepNeeds Needs(UnitHistory history, Attempt attempt, Step step) => new(
        step.Name,
        step.Cautions.OrEmpty(),
        step.Qualification,
        [.. step.Materials.OrEmpty().Where(m => history.Applies(m.AppliesTo))],
        [.. step.Components.OrEmpty().Where(c => history.Applies(c.AppliesTo)).Select(c => WithReplacements(history, attempt, c))],
        step.Tools.OrEmpty(),
        [.. step.Characteristics.OrEmpty().Select(c => Need(history, attempt, c))])
    {
        AllowsSupervised = step.AllowsSupervised == true,
    };

    // What may be put in there by decision is as good as an alternative that the revision names.
    private static ComponentRequirement WithReplacements(UnitHistory history, Attempt attempt, ComponentRequirement requirement)
    {
        if (history.References.FindRouting(history.Unit.Key.Item) is not { Replacements.IsEmpty: false } routing || attempt.Epoch.Revision is not { } revision)
        {
            return requirement;
        }

        var named = requirement.Alternatives.OrEmpty();
        var more = routing.Replacements.Where(r => r.Lets(r.With, requirement, revision.Revision.Revision, attempt.At)).Select(r => r.With);
        return requirement with { Alternatives = [.. named.Concat(more.Where(w => w != requirement.Item)).Distinct()] };
    }

    private static CharacteristicNeed Need(UnitHistory history, Attempt attempt, Characteristic characteristic)
    {
        var isLowerKnown = LimitValue.TryDerive(history, attempt, characteristic.Lower, characteristic.Unit, out var lower);
        var isUpperKnown = LimitValue.TryDerive(history, attempt, characteristic.Upper, characteristic.Unit, out var upper);
        return new(
            characteristic.Code,
            characteristic.Name,
            characteristic.Unit,
            lower,
            upper,
            characteristic.GuardBand,
            characteristic.IsRequired,
            isLowerKnown && isUpperKnown);
    }
}
