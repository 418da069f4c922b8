using System.Diagnostics.CodeAnalysis;
using Traceability.Domain.Facts;
using Traceability.Domain.Nonconformances;
using Traceability.Domain.ProductUnits;

namespace Traceability.Domain.Judging;

/// <summary>Judges a unit: the one place where facts become judgements.</summary>
/// <remarks>
/// Total: no set of facts makes it fail; what can't be read or judged becomes a finding or a gap. The answer depends on
/// the set of the facts and on the references only, never on the order in which the facts arrived and never on the present time.
/// </remarks>
public static class Judge
{
    /// <summary>All judgements on the unit.</summary>
    [SuppressMessage("Design", "CA1031:Do not catch general exception types", Justification = "A defect in judging one unit must not stop the recording of facts or the judging of others.")]
    public static UnitJudgement Unit(ProductUnit unit, IReferences references)
    {
        ArgumentNullException.ThrowIfNull(unit);
        ArgumentNullException.ThrowIfNull(references);
        try
        {
            return Judged(unit, references);
        }
        catch (Exception defect)
        {
            return NotJudged.Of(unit, references, defect);
        }
    }

    private static UnitJudgement Judged(ProductUnit unit, IReferences references)
    {
        var history = UnitHistory.Of(unit, references);
        var sink = new FindingSink();
        var calendar = new SiteCalendar(references);
        Work(history, sink);
        LifeCycleRules.Judge(history, sink);
        var status = StatusFold.Of(history, calendar);
        var open = status.Place == Place.Scrapped ? [] : IntervalRules.Open(history);
        var unreadable = Uncertainty.Of(history);
        Uncertainty.Tell(history, unreadable, sink);
        var findings = sink.ToSorted();
        var nonconformances = NonconformanceFold.Of(history, findings);
        ImmutableArray<IntervalResult> intervals = [.. history.IntervalResults ?? []];
        return new(
            unit.Key,
            status with { HasUnreadable = !unreadable.IsEmpty },
            Results(history, calendar),
            NonconformanceFold.Mark(findings, nonconformances),
            open,
            UsageList.Of(history),
            GapList.Of(history),
            Installations(history))
        {
            Unreadable = unreadable,
            CureWindows = history.CureLooks?.ToSorted() ?? [],
            ToolUsages = ToolUsageList.Of(history),
            Nonconformances = nonconformances,
            Measurements = MeasuredValueList.Of(history),
            IntervalResults = intervals,
            WorkGaps = WorkGapList.Of(history, intervals),
            Departures = history.Departures.Count == 0 ? [] : DepartureList.Of(history),
        };
    }

    /// <summary>Judges all that was done to the unit, but not where it went.</summary>
    internal static void Work(UnitHistory history, FindingSink sink)
    {
        Attempts(history, sink);
        Rest(history, sink);
    }

    /// <summary>Judges every attempt in order: whether an attempt passed depends on those before it.</summary>
    internal static void Attempts(UnitHistory history, FindingSink sink)
    {
        ComponentRules.JudgeDisplaced(history, sink);
        foreach (var attempt in history.Attempts)
        {
            OrderRules.Judge(history, attempt, sink);
            if (attempt.Step is not null)
            {
                MaterialRules.Judge(history, attempt, sink);
                ComponentRules.Judge(history, attempt, sink);
                ToolRules.Judge(history, attempt, sink);
                PersonRules.Judge(history, attempt, sink);
                CharacteristicRules.Judge(history, attempt, sink);
                IntervalRules.Judge(history, attempt, sink);
            }

            DefectRules.Judge(history, attempt, sink);
        }
    }

    // What is found on facts that complete no step.
    private static void Rest(UnitHistory history, FindingSink sink)
    {
        ComponentRules.JudgeRest(history, sink);
        BatchRules.Judge(history, sink);
        IntervalRules.JudgePending(history, sink);
        foreach (var fact in history.Unreadable)
        {
            var unreadable = (UnreadableFact)fact.Fact;
            sink.Add(
                fact,
                null,
                FindingKinds.RecordUnreadable,
                string.Empty,
                null,
                $"Record {fact.Id} can't be read: everything said of this unit may be incomplete.",
                ("record", fact.Id.ToString()),
                ("name", unreadable.StoredName ?? string.Empty),
                ("reason", unreadable.Reason ?? string.Empty));
        }

        if (history.NonconformanceFacts is not null)
        {
            DefectRules.JudgeReports(history, sink);
        }

        foreach (var fact in history.SecondOpenings)
        {
            sink.Add(fact, null, FindingKinds.UnitOpenedTwice, string.Empty, null, "The unit was opened again; the first opening counts.", ("record", fact.Id.ToString()));
        }

        foreach (var fact in history.FailedMoves)
        {
            var moved = (UnitMovedToRevision)fact.Fact;
            sink.Add(fact, null, FindingKinds.NoEffectiveRevision, moved.Revision.ToString(), null, $"Revision {moved.Revision} is not released, so the unit stays under the one before.");
        }

        foreach (var fact in history.Facts)
        {
            if (fact is { IsVoided: false, Fact: not (StepCompleted or UnreadableFact) } && fact.Fact.Clock.Doubtful)
            {
                sink.Add(
                    fact,
                    (fact.Fact as StepStarted)?.Step,
                    FindingKinds.ClockDoubtful,
                    string.Empty,
                    null,
                    "The terminal's clock was off by more than the set bound, so when this happened is not known well.",
                    ("record", fact.Id.ToString()));
            }
        }
    }

    private static ImmutableArray<StepResult> Results(UnitHistory history, SiteCalendar calendar)
    {
        var results = ImmutableArray.CreateBuilder<StepResult>(history.Attempts.Count);
        foreach (var attempt in history.Attempts)
        {
            results.Add(new(
                attempt.Record.Step,
                attempt.Number,
                attempt.Id,
                attempt.Epoch.Revision?.Revision.Revision,
                attempt.StartedAt,
                attempt.At,
                calendar.DayOf(attempt.At, attempt.Record.Station),
                attempt.Record.Station,
                attempt.Record.Person,
                attempt.Record.IsRework,
                attempt.IsPassed,
                attempt.Defects,
                attempt.Opportunities)
            {
                Earliest = attempt.Earliest,
                Latest = attempt.Latest,
            });
        }

        return results.DrainToImmutable();
    }

    internal static ImmutableArray<Installation> Installations(UnitHistory history)
    {
        if (history.Installed.Fitted.Count == 0)
        {
            return [];
        }

        var installations = ImmutableArray.CreateBuilder<Installation>(history.Installed.Fitted.Count);
        foreach (var fitted in history.Installed.Fitted)
        {
            installations.Add(new(history.Unit.Key, fitted.Position, fitted.Component, fitted.Step, fitted.Source.Id, fitted.From, fitted.To) { Uncertainty = fitted.Uncertainty });
        }

        return installations.DrainToImmutable();
    }
}
