using Traceability.Domain.Routings;

namespace Traceability.Domain.Judging;

/// <summary>Revision, station and order: does the step belong here, and is what it needs done?</summary>
internal static class OrderRules
{
    public static void Judge(UnitHistory history, Attempt attempt, FindingSink sink)
    {
        Standing(attempt, sink);
        if (attempt.Step is not { } step)
        {
            NotInRevision(attempt, sink);
            return;
        }

        if (!attempt.Epoch.HasStep(history, attempt.Index))
        {
            sink.Add(attempt, FindingKinds.StepNotForUnit, string.Empty, null, $"Step {step.Code} does not apply to this unit (its variant, options, serial or date).");
        }

        if (!step.Stations.IsDefaultOrEmpty && (attempt.Record.Station is not { } station || !step.Stations.Contains(station)))
        {
            sink.Add(
                attempt,
                FindingKinds.StationNotForStep,
                string.Empty,
                null,
                $"Step {step.Code} is not done at station {attempt.Record.Station?.ToString() ?? "(none)"}.",
                ("station", attempt.Record.Station?.ToString() ?? string.Empty),
                ("allowed", string.Join(", ", step.Stations)));
        }

        Needs(history, attempt, step, sink);
    }

    // What happened to the unit as a whole when the step was completed.
    private static void Standing(Attempt attempt, FindingSink sink)
    {
        if (attempt.Source.Fact.Clock.Doubtful)
        {
            sink.Add(
                attempt,
                FindingKinds.ClockDoubtful,
                string.Empty,
                null,
                "The terminal's clock was off by more than the set bound, so when this happened is not known well.",
                ("offset", Say.Duration(attempt.Source.Fact.Clock.Offset)),
                ("uncertainty", Say.Duration(attempt.Uncertainty)));
        }

        if (attempt.WhileHeld)
        {
            sink.Add(attempt, FindingKinds.WorkedOnWhileHeld, string.Empty, null, $"Step {attempt.Record.Step} was completed while the unit was on hold.");
        }

        if (attempt.AfterEnd)
        {
            sink.Add(attempt, FindingKinds.WorkedOnAfterEnd, string.Empty, null, $"Step {attempt.Record.Step} was completed after the unit had been released, shipped or scrapped.");
        }
    }

    private static void NotInRevision(Attempt attempt, FindingSink sink)
    {
        if (attempt.Epoch.Revision is not { } revision)
        {
            sink.Add(attempt, FindingKinds.NoEffectiveRevision, string.Empty, null, $"No released revision of the routing applies to this unit, so step {attempt.Record.Step} can't be judged.");
            return;
        }

        sink.Add(
            attempt,
            FindingKinds.StepNotInRevision,
            string.Empty,
            null,
            $"Step {attempt.Record.Step} is not in revision {revision.Revision.Revision}, which is effective for this unit.",
            ("revision", revision.Revision.Revision.ToString()));
    }

    private static void Needs(UnitHistory history, Attempt attempt, Step step, FindingSink sink)
    {
        var epoch = attempt.Epoch;
        var revision = epoch.Revision!;
        foreach (var needed in revision.Prerequisites[attempt.Index])
        {
            if (!epoch.HasStep(history, needed) || needed == attempt.Index)
            {
                continue;
            }

            var last = history.LastStanding(epoch, needed, attempt.Began, attempt);
            if (last is null || !last.IsPassed)
            {
                Missing(attempt, FindingKinds.PrerequisiteNotPassed, revision.Steps[needed], last, history.LastDone(epoch, needed, attempt.Began, attempt) != last, step.OrderPolicy, sink);
            }
        }

        foreach (var hidden in revision.Hidden[attempt.Index])
        {
            if (!epoch.HasStep(history, hidden) || hidden == attempt.Index)
            {
                continue;
            }

            var last = history.LastStanding(epoch, hidden, attempt.Began, attempt);
            if (last is null || !last.IsProven)
            {
                Missing(attempt, FindingKinds.HiddenStepNotProven, revision.Steps[hidden], last, history.LastDone(epoch, hidden, attempt.Began, attempt) != last, step.OrderPolicy, sink);
            }
        }
    }

    private static void Missing(Attempt attempt, string kind, Step needed, Attempt? last, bool isReopened, RulePolicy? policy, FindingSink sink)
    {
        var state = isReopened ? "was re-opened and not done again before" : last is null ? "was not completed before" : last.IsPassed ? "left something unproven" : "had not passed";
        var why = kind == FindingKinds.HiddenStepNotProven
            ? $"Step {attempt.Record.Step} hides step {needed.Code} for good, which {state}."
            : $"Step {attempt.Record.Step} needs step {needed.Code}, which {state}.";
        sink.Add(
            attempt,
            kind,
            needed.Code.ToString(),
            policy,
            why,
            ("step", needed.Code.ToString()),
            ("last-attempt", isReopened ? "re-opened" : last is null ? "none" : Say.Number(last.Number)),
            ("started", Say.Time(attempt.Began)));
    }
}
