using System.Text.Json;

namespace Traceability.Simulator.Truth;

/// <summary>A moment with how far it may be off.</summary>
internal sealed record Moment(DateTimeOffset At, TimeSpan Uncertainty);

/// <summary>Reads the interval rules of a unit: those that ended, and those that are open.</summary>
internal sealed class IntervalReader(FactBook book, UnitPast past, FindingBag bag)
{
    /// <summary>The rules that end at an attempt.</summary>
    public void Read(Tried attempt)
    {
        foreach (var rule in RulesOf(attempt.Period).Where(r => StepOf(r, "to") == attempt.Code))
        {
            attempt.Opportunities++;
            var known = In(attempt, rule.GetProperty("to"));
            var kind = Verdict(rule, attempt.Period, known ?? new(attempt.Fact.At, attempt.Fact.Uncertainty), attempt, known is not null);
            if (kind is not null)
            {
                attempt.IsUnproven |= kind is "interval-undetermined" or "interval-start-not-recorded";
                bag.Add(attempt, kind, Json.Text(rule, "code")!, Json.Member(rule, "policy"));
            }
        }
    }

    /// <summary>The rules that end at the start of a step that is not completed.</summary>
    public void ReadPending()
    {
        foreach (var rule in RulesOf(past.Periods.Count - 1).Where(r => KindOf(r, "to") == "started"))
        {
            if (Pending(StepOf(rule, "to")) is { } start
                && Verdict(rule, past.Periods.Count - 1, new(start.At, start.Uncertainty), null, isEndKnown: true) is { } kind)
            {
                bag.Add(null, start, StepOf(rule, "to"), kind, Json.Text(rule, "code")!, Json.Member(rule, "policy"));
            }
        }
    }

    /// <summary>The rules that have started and not ended.</summary>
    public IEnumerable<OpenAnswer> Open()
    {
        var period = past.Periods.Count - 1;
        foreach (var rule in RulesOf(period))
        {
            var (start, _) = StartOf(rule, period, new(DateTimeOffset.MaxValue, TimeSpan.Zero), null);
            if (start is null || HasEnded(rule, period, start))
            {
                continue;
            }

            yield return new(
                Json.Text(rule, "code")!, StepOf(rule, "from"), StepOf(rule, "to"), start.At, start.Uncertainty,
                Json.Member(rule, "temperature") is { } condition
                    ? new CureReader(book, past).ReadyAt(condition, Starting(rule, period, start), start)
                    : start.At + Json.Duration(rule, "minimum"),
                start.At + Json.Duration(rule, "maximum"));
        }
    }

    private static string StepOf(JsonElement rule, string end) => Json.Text(rule.GetProperty(end), "step")!;

    private static string KindOf(JsonElement rule, string end) => Json.Text(rule.GetProperty(end), "kind")!;

    private IEnumerable<JsonElement> RulesOf(int period)
    {
        if (past.Periods[period].Revision is not { } revision)
        {
            return [];
        }

        var mine = past.StepsOf(revision).Select(s => Json.Text(s, "code")).ToList();
        return Json.List(revision, "intervals").Where(r => past.Applies(r) && mine.Contains(StepOf(r, "from")) && mine.Contains(StepOf(r, "to")));
    }

    private SeenFact? Pending(string step) => past.StartsOf(step).LastOrDefault() is { } start
        && !past.Attempts.Any(a => a.Code == step && a.Fact.At >= start.At) ? start : null;

    private Moment? In(Tried attempt, JsonElement milestone)
    {
        var name = Json.Text(milestone, "name");
        switch (Json.Text(milestone, "kind"))
        {
            case "completed":
                return new(attempt.Fact.At, attempt.Fact.Uncertainty);
            case "started":
                return attempt.StartedAt is { } started ? new(started, attempt.StartUncertainty) : null;
            case "mark":
                var marks = Json.List(attempt.Fact.Body, "marks").Where(m => Json.Text(m, "name") == name).Select(m => Json.Time(m, "at")).ToList();
                return marks.Count > 0 ? new(marks.Max()!.Value + attempt.Fact.Offset, attempt.Fact.Uncertainty) : null;
            default:
                return Opening(attempt, name);
        }
    }

    private Moment? Opening(Tried attempt, string? requirement)
    {
        var requirements = attempt.Step is { } step ? MaterialReader.MaterialsOf(past, step) : [];
        Moment? first = null;
        foreach (var use in Json.List(attempt.Fact.Body, "materials"))
        {
            var serves = MaterialReader.Serves(requirements, use);
            var (lots, container) = (Json.Texts(use, "lots"), Json.Text(use, "container"));
            if (serves is null || container is null || (requirement is not null && serves != requirement))
            {
                continue;
            }

            if (lots.Length != 1 || MaterialReader.OpenedAt(book, $"{Json.Text(use, "item")}/{lots[0]}", container) is not { } opened)
            {
                return null;
            }

            first = first is { } known && known.At <= opened.At ? first : new(opened.At, opened.Uncertainty);
        }

        return first;
    }

    // The last start at or before the end; if there is none, one that the clocks' uncertainty could put before it.
    // The second value says whether the step that starts it was done at all.
    private (Moment? Start, bool WasDone) StartOf(JsonElement rule, int period, Moment end, Tried? ending)
    {
        var milestone = rule.GetProperty("from");
        var reports = KindOf(rule, "from") == "started" ? past.StartsOf(StepOf(rule, "from")).Where(s => s.At <= end.At).ToList() : [];
        var reported = reports.Count > 0 ? new Moment(reports[^1].At, reports[^1].Uncertainty) : null;
        Moment? after = null;
        foreach (var attempt in past.Attempts.Where(a => a.Code == StepOf(rule, "from") && past.Counts(a, period)).Reverse())
        {
            var moment = In(attempt, milestone);
            var isOver = attempt == ending || attempt.Fact.At <= end.At;
            if (moment is null)
            {
                if (!isOver)
                {
                    continue;
                }

                return (reported is not null && reported.At > attempt.Fact.At ? reported : null, true);
            }

            if (moment.At <= end.At && (isOver || KindOf(rule, "from") != "container-opened"))
            {
                return (reported is not null && reported.At > moment.At ? reported : moment, true);
            }

            if (moment.At > end.At && moment.At - end.At <= moment.Uncertainty + end.Uncertainty)
            {
                after = moment;
            }
        }

        var found = reported ?? after;
        return (found, found is not null);
    }

    private string? Verdict(JsonElement rule, int period, Moment end, Tried? attempt, bool isEndKnown)
    {
        var (start, wasDone) = StartOf(rule, period, end, attempt);
        if (start is null)
        {
            var isBetweenAttempts = StepOf(rule, "from") == StepOf(rule, "to") && !wasDone && attempt is not null && In(attempt, rule.GetProperty("from")) is not null;
            return isBetweenAttempts ? null : "interval-start-not-recorded";
        }

        var elapsed = end.At - start.At;
        var doubt = start.Uncertainty + end.Uncertainty;
        var (minimum, maximum) = (Json.Duration(rule, "minimum"), Json.Duration(rule, "maximum"));
        var byTemperature = Json.Member(rule, "temperature");
        var cured = byTemperature is { } condition ? new CureReader(book, past).Judge(condition, Starting(rule, period, start), start, end) : null;
        if (elapsed + doubt < minimum || cured == "interval-too-short")
        {
            return "interval-too-short";
        }

        if (!isEndKnown)
        {
            return minimum is null && byTemperature is null && elapsed + doubt <= maximum ? null : "interval-undetermined";
        }

        return elapsed - doubt > maximum ? "interval-too-long"
            : elapsed - doubt < minimum || elapsed + doubt > maximum ? "interval-undetermined"
            : cured;
    }

    private Tried? Starting(JsonElement rule, int period, Moment start) =>
        past.Attempts.LastOrDefault(a => a.Code == StepOf(rule, "from") && past.Counts(a, period) && In(a, rule.GetProperty("from"))?.At == start.At);

    private bool HasEnded(JsonElement rule, int period, Moment start)
    {
        bool Ends(Moment end, Tried? attempt) => end.At >= start.At
            || (start.At - end.At <= start.Uncertainty + end.Uncertainty && StartOf(rule, period, end, attempt).Start == start);

        return past.Attempts.Any(a => a.Code == StepOf(rule, "to") && past.Counts(a, period)
                && Ends(In(a, rule.GetProperty("to")) ?? new(a.Fact.At, a.Fact.Uncertainty), a))
            || (KindOf(rule, "to") == "started" && Pending(StepOf(rule, "to")) is { } pending && Ends(new(pending.At, pending.Uncertainty), null));
    }
}
