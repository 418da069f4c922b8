using System.Text.Json;

namespace Traceability.Simulator.Truth;

/// <summary>One completed attempt at a step.</summary>
internal sealed class Tried
{
    public required SeenFact Fact { get; init; }

    /// <summary>The number of the revision in the unit's life by which it is judged: 0 for the first.</summary>
    public required int Period { get; init; }

    /// <summary>The step's definition in that revision; null if it has none.</summary>
    public required JsonElement? Step { get; init; }

    public int Number { get; set; }

    public DateTimeOffset? StartedAt { get; set; }

    public TimeSpan StartUncertainty { get; set; }

    /// <summary>The earliest time that anything in it can have happened.</summary>
    public DateTimeOffset Earliest { get; set; }

    public DateTimeOffset Latest => Fact.At + Fact.Uncertainty;

    public DateTimeOffset Began => StartedAt is { } started && started < Fact.At ? started : Fact.At;

    public int Defects { get; set; }

    public int Opportunities { get; set; }

    public bool IsUnproven { get; set; }

    public bool Passed => Defects == 0;

    public string Code => Fact.Step;
}

/// <summary>A revision that held for a unit from some time on.</summary>
/// <param name="Revision">The revision's body; null if none applied.</param>
/// <param name="From">Since when.</param>
/// <param name="CarriesOver">Steps of earlier revisions that stay valid.</param>
internal sealed record Period(JsonElement? Revision, DateTimeOffset From, string[] CarriesOver);

/// <summary>A component in a position.</summary>
internal sealed record Inside(string Position, string Component, SeenFact By, Tried? At)
{
    public DateTimeOffset From => By.At;

    public DateTimeOffset? To { get; set; }

    public bool Holds(DateTimeOffset at) => From <= at && (To is null || at < To);
}

/// <summary>What a unit's facts tell before anything is judged.</summary>
internal sealed class UnitPast
{
    private readonly FactBook _book;

    public UnitPast(FactBook book, string unit)
    {
        _book = book;
        Unit = unit;
        Opened = book.OfUnit(unit).Where(f => f.Type == "unit-opened").OrderBy(f => f.IsVoided).FirstOrDefault();
        Facts = [.. book.OfUnit(unit).Concat(BeforeItsSerial()).OrderBy(f => f.At).ThenBy(f => f.Id)];
        Standing = [.. Facts.Where(f => !f.IsVoided)];
        Periods = ReadPeriods();
        Attempts = [.. Standing.Where(f => f.Type == "step-completed").Select(Try).OrderBy(t => t.Fact.At).ThenBy(t => PlaceOf(t)).ThenBy(t => t.Fact.Id)];
        Voided = [.. Facts.Where(f => f.IsVoided && f.Type == "step-completed").Select(Try)];
        NumberAndStart();
        Contents = ReadContents();
        Decisions = [.. Standing.Where(f => f.Type is "nonconformance-taken-up" or "nonconformance-disposed")];
        Reopenings = ReadReopenings();
    }

    public string Unit { get; }

    public string Item => Unit.Split('/')[0];

    /// <summary>No routing says how it is built here.</summary>
    public bool IsBought => _book.Released(Item).Count == 0;

    /// <summary>All facts that count, void ones included; with those of the batch that it was taken out of, until then.</summary>
    public IReadOnlyList<SeenFact> Facts { get; }

    /// <summary>Those that are not void.</summary>
    public IReadOnlyList<SeenFact> Standing { get; }

    public SeenFact? Opened { get; }

    /// <summary>The earliest time that anything can have been done to it: it was opened, or the batch was formed that it was taken out of.</summary>
    public DateTimeOffset? Began
    {
        get
        {
            if (Opened is not { } o)
            {
                return null;
            }

            var own = o.IsVoided ? o.At : o.At - o.Uncertainty;
            return Batch.FirstOrDefault(f => f is { Type: "batch-formed", IsVoided: false }) is { } formed && formed.At - formed.Uncertainty < own ? formed.At - formed.Uncertainty : own;
        }
    }

    public string Variant => Opened is { } o ? Json.Text(o.Body, "variant") ?? string.Empty : string.Empty;

    public IReadOnlyList<Period> Periods { get; }

    public JsonElement? Revision => Periods[^1].Revision;

    public IReadOnlyList<Tried> Attempts { get; }

    public IReadOnlyList<Tried> Voided { get; }

    public IReadOnlyList<Inside> Contents { get; }

    /// <summary>Decisions about nonconformances, by when they were made.</summary>
    public IReadOnlyList<SeenFact> Decisions { get; }

    public IReadOnlyList<Reopened> Reopenings { get; }

    /// <summary>Removals of what was not inside.</summary>
    public List<SeenFact> StrayRemovals { get; } = [];

    /// <summary>What took a component's place without its removal.</summary>
    public List<(Inside Old, Inside Next)> Displaced { get; } = [];

    /// <summary>Whether something of the routing applies to the unit.</summary>
    public bool Applies(JsonElement part, string member = "appliesTo") =>
        Json.Member(part, member) is not { } rule || IsFor(rule, Opened?.At ?? DateTimeOffset.MinValue);

    /// <summary>The steps of a revision that the unit has, in their order.</summary>
    public IEnumerable<JsonElement> StepsOf(JsonElement? revision) => revision is { } r ? Json.List(r, "steps").Where(s => Applies(s)) : [];

    /// <summary>Whether an attempt still counts under a period.</summary>
    public bool Counts(Tried attempt, int period)
    {
        if (attempt.Period > period)
        {
            return false;
        }

        for (var p = attempt.Period + 1; p <= period; p++)
        {
            if (!Periods[p].CarriesOver.Contains(attempt.Code))
            {
                return false;
            }
        }

        return true;
    }

    /// <summary>The last attempt at a step that counts and was completed by that time.</summary>
    public Tried? LastAt(string step, int period, DateTimeOffset by, Tried? except = null) =>
        Attempts.LastOrDefault(a => a.Code == step && a != except && a.Fact.At <= by && Counts(a, period));

    /// <summary>The same, unless a decision has re-opened the step since.</summary>
    public Tried? LastStandingAt(string step, int period, DateTimeOffset by, Tried? except = null) =>
        LastAt(step, period, by, except) is { } last && !Reopenings.Any(r => r.Undoes(last, by)) ? last : null;

    /// <summary>Whether a step of the present revision needs another one, directly or through others.</summary>
    public bool Needs(string step, string other) => step != other && Revision is { } r
        && Json.List(r, "steps").Any(s => Json.Text(s, "code") == step) && GapReader.Needs(r, step, other, []);

    /// <summary>Reported starts of a step, by time.</summary>
    public IEnumerable<SeenFact> StartsOf(string step) => Standing.Where(f => f.Type == "step-started" && f.Step == step);

    private IReadOnlyList<SeenFact> Batch => Opened is { } o && Json.Text(o.Body, "batch") is { } batch ? _book.OfBatch($"{Item}/{batch}") : [];

    // What was done to its batch until it was taken out, as far as the clocks tell, was done to it.
    private IEnumerable<SeenFact> BeforeItsSerial() => Batch
        .Where(f => f.Type is "batch-step-started" or "batch-step-completed" && f.At <= Opened!.At + Opened.Uncertainty + f.Uncertainty)
        .Select(f => f.AsOwn());

    private bool IsFor(JsonElement rule, DateTimeOffset openedAt)
    {
        var variants = Json.Texts(rule, "variants");
        var options = Json.Texts(rule, "options");
        var mine = Opened is { } o ? Json.Texts(o.Body, "options") : [];
        var serial = Unit.Split('/')[1];
        return (variants.Length == 0 || variants.Contains(Variant))
            && options.All(mine.Contains)
            && (Json.Text(rule, "serialFrom") is not { } from || Order(serial, from) >= 0)
            && (Json.Text(rule, "serialTo") is not { } to || Order(serial, to) <= 0)
            && (Json.Time(rule, "openedFrom") is not { } start || openedAt >= start)
            && (Json.Time(rule, "openedBefore") is not { } end || openedAt < end);
    }

    private static int Order(string a, string b) => a.Length != b.Length ? a.Length.CompareTo(b.Length) : string.CompareOrdinal(a, b);

    private List<Reopened> ReadReopenings()
    {
        var found = new List<Reopened>();
        foreach (var decision in Decisions.Where(d => Json.Text(d.Body, "disposition") is "rework" or "repair"))
        {
            var about = Json.Text(decision.Body, "nonconformance");
            var next = Decisions.SkipWhile(d => d != decision).Skip(1).FirstOrDefault(d => Json.Text(d.Body, "nonconformance") == about);
            var named = Json.Texts(decision.Body, "reopens");
            var built = StepsOf(Revision).Select(s => Json.Text(s, "code")!)
                .Where(s => named.Any(n => Needs(s, n)) && LastAt(s, Periods.Count - 1, decision.At) is not null);
            found.Add(new(decision, next?.At, named, [.. named.Union(built, StringComparer.Ordinal)]));
        }

        return found;
    }

    private List<Period> ReadPeriods()
    {
        var released = _book.Released(Item);
        JsonElement? first = Opened is null ? null : released
            .Where(r => Json.Member(r, "effectivity") is not { } e || IsFor(e, Opened.At)).Select(r => (JsonElement?)r).LastOrDefault();
        var periods = new List<Period> { new(first, DateTimeOffset.MinValue, []) };
        foreach (var move in Standing.Where(f => f.Type == "unit-moved-to-revision"))
        {
            var to = released.Where(r => Json.Text(r, "revision") == Json.Text(move.Body, "revision")).Select(r => (JsonElement?)r).FirstOrDefault();
            if (to is not null)
            {
                periods.Add(new(to, move.At, Json.Texts(move.Body, "carriesOver")));
            }
        }

        return periods;
    }

    private Tried Try(SeenFact fact)
    {
        var period = Periods.Count - 1;
        while (period > 0 && Periods[period].From > fact.At)
        {
            period--;
        }

        JsonElement? step = Periods[period].Revision is { } revision
            ? Json.List(revision, "steps").Where(s => Json.Text(s, "code") == fact.Step).Select(s => (JsonElement?)s).FirstOrDefault()
            : null;
        return new() { Fact = fact, Period = period, Step = step };
    }

    // Of steps completed in the same moment the one that comes first in the routing was first.
    private int PlaceOf(Tried attempt)
    {
        var steps = Periods[attempt.Period].Revision is { } revision ? Json.List(revision, "steps") : [];
        var place = Array.FindIndex(steps, s => Json.Text(s, "code") == attempt.Code);
        return place < 0 ? int.MaxValue : place;
    }

    private void NumberAndStart()
    {
        for (var i = 0; i < Attempts.Count; i++)
        {
            var attempt = Attempts[i];
            var before = Attempts.Take(i).LastOrDefault(a => a.Code == attempt.Code);
            attempt.Number = Attempts.Take(i).Count(a => a.Code == attempt.Code) + 1;
            var free = i > 0 ? Attempts[i - 1].Fact.At - Attempts[i - 1].Fact.Uncertainty : OpenedEarliest();
            SetStart(attempt, before?.Fact.At, free);
        }

        foreach (var attempt in Voided)
        {
            SetStart(attempt, null, Batch.Count > 0 ? Began : Opened?.At);
        }
    }

    private DateTimeOffset? OpenedEarliest() => Opened is { IsVoided: false } ? Began : null;

    private void SetStart(Tried attempt, DateTimeOffset? after, DateTimeOffset? free)
    {
        if (Json.Time(attempt.Fact.Body, "startedAt") is { } said)
        {
            attempt.StartedAt = said + attempt.Fact.Offset;
            attempt.StartUncertainty = attempt.Fact.Uncertainty;
        }
        else
        {
            var start = StartsOf(attempt.Code).LastOrDefault(s => s.At <= attempt.Fact.At);
            if (start is not null && (after is null || start.At > after))
            {
                attempt.StartedAt = start.At;
                attempt.StartUncertainty = start.Uncertainty;
            }
        }

        var end = attempt.Fact.At - attempt.Fact.Uncertainty;
        var begin = attempt.StartedAt is { } at ? at - attempt.StartUncertainty : free ?? end;
        attempt.Earliest = begin < end ? begin : end;
    }

    private List<Inside> ReadContents()
    {
        var moves = new List<(DateTimeOffset At, int Out, SeenFact By, Tried? Attempt, string Position, string Component)>();
        foreach (var attempt in Attempts)
        {
            moves.AddRange(Json.List(attempt.Fact.Body, "components")
                .Select(c => (attempt.Fact.At, 1, attempt.Fact, (Tried?)attempt, Json.Text(c, "position")!, Json.Unit(c, "component")!)));
        }

        foreach (var fact in Standing.Where(f => f.Type is "component-installed" or "component-removed"))
        {
            moves.Add((fact.At, fact.Type == "component-removed" ? 0 : 1, fact, null, Json.Text(fact.Body, "position")!, Json.Unit(fact.Body, "component")!));
        }

        var contents = new List<Inside>();
        foreach (var move in moves.OrderBy(m => m.At).ThenBy(m => m.Out))
        {
            if (move.Out == 0)
            {
                var there = contents.Where(c => c.To is null && c.Component == move.Component).ToList();
                there.ForEach(c => c.To = move.At);
                if (there.Count == 0)
                {
                    StrayRemovals.Add(move.By);
                }

                continue;
            }

            var next = new Inside(move.Position, move.Component, move.By, move.Attempt);
            var old = contents.FirstOrDefault(c => c.To is null && c.Position == move.Position);
            if (old?.Component == move.Component)
            {
                continue;
            }

            if (old is not null)
            {
                old.To = move.At;
                Displaced.Add((old, next));
            }

            contents.Add(next);
        }

        return contents;
    }
}
