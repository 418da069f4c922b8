using System.Text.Json;

namespace Traceability.Simulator.Truth;

/// <summary>How far each nonconformance of a unit has come.</summary>
/// <remarks>Straight from the reference page on nonconformances, state by state.</remarks>
internal sealed class NonconformanceReader(UnitPast past)
{
    private readonly Dictionary<string, Case> _cases = new(StringComparer.Ordinal);

    public IReadOnlyList<NonconformanceAnswer> Read(IReadOnlyList<FindingAnswer> findings)
    {
        foreach (var f in findings.Where(f => f.IsDefect))
        {
            var at = past.Facts.First(x => x.Id == f.Record).At;
            _cases.TryAdd($"{f.Record}.{f.Kind}.{f.Rule}", new(f.Kind, f.Rule, f.Step, f.Attempt, f.Record, at));
        }

        foreach (var report in past.Facts.Where(f => f.Type == "nonconformance-reported"))
        {
            _cases[report.Id.ToString()] = new("nonconformance-reported", Json.Text(report.Body, "defect")!, report.Step, 0, report.Id, report.At) { IsGone = report.IsVoided };
        }

        foreach (var decision in past.Decisions)
        {
            var id = Json.Text(decision.Body, "nonconformance")!;
            if (!_cases.TryGetValue(id, out var about))
            {
                _cases[id] = about = new(string.Empty, string.Empty, string.Empty, 0, Guid.Empty, decision.At) { IsGone = true };
            }

            about.Decision = decision;
        }

        var all = _cases.OrderBy(c => c.Value.At).ThenBy(c => c.Value.Record).ThenBy(c => c.Key, StringComparer.Ordinal).ToList();
        Concede([.. all.Select(c => c.Value)]);
        return [.. all.Select(c => Answer(c.Key, c.Value))];
    }

    private NonconformanceAnswer Answer(string id, Case c)
    {
        var disposition = c.Decision is null ? null : Json.Text(c.Decision.Body, "disposition");
        var state = State(c, disposition);
        var concession = c.IsGone || c.ConcededBy is null ? null : Json.Text(ConcessionOf(c.ConcededBy)!.Value, "number");
        return new(id, state, c.Kind, c.Rule, c.Step, disposition, concession, state is "open" or "under-decision" or "disposed");
    }

    private static JsonElement? ConcessionOf(Case c) =>
        c.Decision is { } d && Json.Text(d.Body, "disposition") == "use-as-is" ? Json.Member(d.Body, "concession") : null;

    private static void Concede(List<Case> cases)
    {
        for (var i = 0; i < cases.Count; i++)
        {
            if (cases[i].IsGone || ConcessionOf(cases[i]) is not { } concession)
            {
                continue;
            }

            var alike = cases.Skip(i).Where(c => !c.IsGone && (c.Kind, c.Rule, c.Step) == (cases[i].Kind, cases[i].Rule, cases[i].Step)).ToList();
            foreach (var other in alike.Take((int)(Json.Number(concession, "countMax") ?? int.MaxValue)))
            {
                var isFree = other.ConcededBy is null && (other.Decision is null || other == cases[i]);
                if (isFree && !(other.At >= Json.Time(concession, "until")))
                {
                    other.ConcededBy = cases[i];
                }
            }
        }
    }

    private string State(Case c, string? disposition)
    {
        if (c.IsGone)
        {
            return "moot";
        }

        if (c.ConcededBy is not null || past.Standing.Any(f => f.Type == "unit-scrapped"))
        {
            return "closed";
        }

        if (c.Decision is null)
        {
            return IsSettled(c) ? "settled" : "open";
        }

        var isDone = disposition switch
        {
            "rework" or "repair" => IsRedone(past.Reopenings.First(r => r.Decision.Id == c.Decision.Id)),
            "return-to-supplier" => past.Standing.Any(f => f.Type == "unit-shipped" && f.At >= c.Decision.At),
            _ => false,
        };
        return disposition is null ? "under-decision" : isDone ? "closed" : "disposed";
    }

    private bool IsSettled(Case c)
    {
        var last = past.Attempts.LastOrDefault(a => a.Code == c.Step);
        var isLater = last is { Passed: true } && (c.Attempt > 0 ? last.Number > c.Attempt : last.Fact.At > c.At);
        return (isLater && c.Kind != "nonconformance-reported")
            || past.Contents.Any(i => i.To is not null && i.By.Id == c.Record && i.Position == c.Rule);
    }

    // Each named step again, as rework, and passed; what depends on it after that.
    private bool IsRedone(Reopened reopened)
    {
        var redone = reopened.Steps.Select(s => past.Attempts.LastOrDefault(a => a.Code == s))
            .Where(a => a is { Passed: true } && a.Fact.At > reopened.From && (Json.Flag(a.Fact.Body, "isRework") || !reopened.Named.Contains(a.Code))
                && past.Counts(a, past.Periods.Count - 1))
            .Select(a => a!).ToList();
        while (redone.Find(a => reopened.Steps.Any(s => past.Needs(a.Code, s) && !redone.Any(r => r.Code == s && r.Fact.At <= a.Began))) is { } early)
        {
            redone.Remove(early);
        }

        return redone.Count == reopened.Steps.Count;
    }

    private sealed class Case(string kind, string rule, string step, int attempt, Guid record, DateTimeOffset at)
    {
        public string Kind => kind;

        public string Rule => rule;

        public string Step => step;

        public int Attempt => attempt;

        public Guid Record => record;

        public DateTimeOffset At => at;

        public bool IsGone { get; init; }

        public SeenFact? Decision { get; set; }

        public Case? ConcededBy { get; set; }
    }
}

/// <summary>Steps that a decision re-opened, from then on until another decision.</summary>
/// <param name="Decision">The decision.</param>
/// <param name="To">The next decision about the same; null: none.</param>
/// <param name="Named">The steps that it names.</param>
/// <param name="Steps">Those, and what was done before that depends on them.</param>
internal sealed record Reopened(SeenFact Decision, DateTimeOffset? To, string[] Named, IReadOnlyList<string> Steps)
{
    public DateTimeOffset From => Decision.At;

    /// <summary>Whether the last attempt at a step counts for nothing at that time.</summary>
    public bool Undoes(Tried last, DateTimeOffset by) =>
        last.Fact.At <= From && From <= by && (To is not { } to || by < to) && Steps.Contains(last.Code, StringComparer.Ordinal);
}
