using System.Text.Json;
using Traceability.Simulator.Plant;

namespace Traceability.Simulator.Truth;

/// <summary>Judges the facts that were sent once more, apart from the service: plain loops over lists, nothing shared with it.</summary>
/// <remarks>
/// Written from the domain brief. Where the brief leaves a choice (which moment a rule is judged at, which kinds count as
/// defects by default), it follows the service's documented reference.
/// </remarks>
public static class Recomputation
{
    /// <summary>Judges everything that these facts tell, as of a moment; the definitions are among the facts.</summary>
    public static PlantAnswers Of(IReadOnlyList<PlantFact> facts, DateTimeOffset now)
    {
        ArgumentNullException.ThrowIfNull(facts);
        var book = new FactBook(facts);
        var pasts = book.Units.ToDictionary(u => u, u => new UnitPast(book, u), StringComparer.Ordinal);
        var insides = pasts.Values.SelectMany(p => p.Contents.Select(c => (p.Unit, Content: c))).ToList();
        var insidesOf = insides.ToLookup(i => i.Content.Component, StringComparer.Ordinal);
        var units = new Dictionary<string, UnitAnswer>(StringComparer.Ordinal);
        foreach (var past in pasts.Values)
        {
            var named = past.Standing.SelectMany(ComponentsOf).Distinct(StringComparer.Ordinal).SelectMany(c => insidesOf[c]).ToList();
            units[past.Unit] = Judge(book, past, u => pasts.GetValueOrDefault(u), named);
        }

        return new(now, book, pasts, units);
    }

    private static IEnumerable<string> ComponentsOf(SeenFact fact) =>
        Json.List(fact.Body, "components").Append(fact.Body).Select(c => Json.Unit(c, "component")).OfType<string>();

    private static UnitAnswer Judge(FactBook book, UnitPast past, Func<string, UnitPast?> unitOf, IReadOnlyList<(string Parent, Inside Content)> insides)
    {
        var bag = new FindingBag();
        var attempts = new AttemptReader(book, past, bag, unitOf, insides);
        var intervals = new IntervalReader(book, past, bag);
        foreach (var attempt in past.Attempts)
        {
            foreach (var (old, next) in past.Displaced.Where(d => d.Next.At == attempt))
            {
                bag.Add(attempt, "component-not-removed", old.Position);
            }

            attempts.Read(attempt);
            if (attempt.Step is not null)
            {
                intervals.Read(attempt);
            }
        }

        Rest(past, bag, attempts);
        LifeCycle(past, bag);
        intervals.ReadPending();
        var state = StateReader.Of(book, past);
        return new(
            past.Unit,
            past.Variant,
            past.Revision is { } r ? Json.Text(r, "revision")! : string.Empty,
            state.Place,
            state.Consignee,
            state.EndedDay,
            state.IsScrapped,
            state.PassedFirstTime,
            [.. past.Attempts.Select(a => Result(book, past, a))],
            bag.All,
            state.IsScrapped ? [] : [.. intervals.Open()],
            [.. past.Contents.Select(c => new ContentAnswer(c.Position, c.Component, c.From, c.To))],
            [.. GapReader.Usages(past)],
            new GapReader(past, unitOf).Read(),
            [.. ToolReader.Uses(book, past)],
            new NonconformanceReader(past).Read(bag.All));
    }

    // Releases, shipments and returns that do not fit where the unit stands; from the table of the reference page on release.
    private static void LifeCycle(UnitPast past, FindingBag bag)
    {
        var (place, held) = ("in-process", false);
        foreach (var fact in past.Standing)
        {
            held = fact.Type switch { "unit-held" => true, "unit-hold-lifted" => false, _ => held };
            string[] kinds = (fact.Type, place) switch
            {
                ("unit-released" or "unit-shipped" or "unit-returned", "scrapped") => ["acted-on-after-scrap"],
                ("unit-released", "shipped") => ["released-while-shipped"],
                ("unit-released", _) => held ? ["released-on-hold"] : [],
                ("unit-shipped", "shipped") => ["shipped-twice"],
                ("unit-shipped", _) => [.. place == "in-stock" ? Array.Empty<string>() : ["shipped-unreleased"], .. held ? ["shipped-on-hold"] : Array.Empty<string>()],
                ("unit-returned", not "shipped") => ["returned-not-shipped"],
                _ => [],
            };
            Array.ForEach(kinds, kind => bag.Add(null, fact, string.Empty, kind, string.Empty));
            place = (fact.Type, place) switch
            {
                (_, "scrapped") or ("unit-scrapped", _) => "scrapped",
                ("unit-released", _) => "in-stock",
                ("unit-shipped", _) => "shipped",
                ("unit-returned", _) => "returned",
                ("step-started" or "step-completed", "returned") => "in-process",
                _ => place,
            };
        }
    }

    // What is found on facts that complete no step.
    private static void Rest(UnitPast past, FindingBag bag, AttemptReader attempts)
    {
        foreach (var fact in past.Standing.Where(f => f.Type == "component-installed"))
        {
            attempts.ReadInstalled(fact);
        }

        foreach (var (old, next) in past.Displaced.Where(d => d.Next.At is null))
        {
            bag.Add(null, next.By, next.By.Step, "component-not-removed", old.Position);
        }

        foreach (var stray in past.StrayRemovals)
        {
            bag.Add(null, stray, string.Empty, "component-removed-not-installed", Json.Text(stray.Body, "position")!);
        }

        foreach (var again in past.Standing.Where(f => f.Type == "unit-opened" && f != past.Opened))
        {
            bag.Add(null, again, string.Empty, "unit-opened-twice", string.Empty);
        }

        foreach (var move in past.Standing.Where(f => f.Type == "unit-moved-to-revision" && !past.Periods.Any(p => p.From == f.At)))
        {
            bag.Add(null, move, string.Empty, "no-effective-revision", Json.Text(move.Body, "revision")!);
        }

        foreach (var fact in past.Standing.Where(f => f.IsDoubtful && f.Type != "step-completed"))
        {
            bag.Add(null, fact, fact.Type == "step-started" ? fact.Step : string.Empty, "clock-doubtful", string.Empty);
        }
    }

    private static StepAnswer Result(FactBook book, UnitPast past, Tried attempt) => new(
        attempt.Code,
        attempt.Number,
        attempt.Fact.Id,
        past.Periods[attempt.Period].Revision is { } revision ? Json.Text(revision, "revision")! : string.Empty,
        attempt.StartedAt,
        attempt.Fact.At,
        book.Day(attempt.Fact.At, attempt.Fact.Station) ?? DateOnly.FromDateTime(attempt.Fact.At.UtcDateTime),
        attempt.Fact.Station ?? string.Empty,
        attempt.Fact.Person ?? string.Empty,
        Json.Flag(attempt.Fact.Body, "isRework"),
        attempt.Passed,
        attempt.Defects,
        attempt.Opportunities);
}

/// <summary>Where a unit stands.</summary>
internal sealed record StateReader(string Place, string? Consignee, DateOnly? EndedDay, bool IsScrapped, bool PassedFirstTime)
{
    public static StateReader Of(FactBook book, UnitPast past)
    {
        var place = "in-process";
        string? consignee = null;
        SeenFact? end = null;
        var held = false;
        foreach (var fact in past.Standing)
        {
            held = fact.Type switch { "unit-held" => true, "unit-hold-lifted" => false, _ => held };
            var next = fact.Type switch
            {
                "unit-released" => "in-stock",
                "unit-shipped" => "shipped",
                "unit-returned" => "returned",
                "unit-scrapped" => "scrapped",
                "step-started" or "step-completed" when place == "returned" => "in-process",
                _ => place,
            };
            place = place == "scrapped" ? place : next;
            consignee = fact.Type == "unit-shipped" ? Json.Text(fact.Body, "consignee") : consignee;
            end ??= fact.Type is "unit-released" or "unit-scrapped" ? fact : null;
        }

        var shown = held && place is "in-process" or "in-stock" or "returned" && held ? "on-hold" : place;
        DateOnly? day = end is null ? null : book.Day(end.At, end.Station) ?? DateOnly.FromDateTime(end.At.UtcDateTime);
        return new(shown, shown == "shipped" ? consignee : null, day, place == "scrapped", end is not null && FirstTime(past, end.At));
    }

    private static bool FirstTime(UnitPast past, DateTimeOffset end)
    {
        if (past.Revision is not { } revision)
        {
            return false;
        }

        foreach (JsonElement step in past.StepsOf(revision))
        {
            var tries = past.Attempts.Where(a => a.Code == Json.Text(step, "code") && a.Fact.At <= end).ToList();
            if (tries.Count == 0 || !tries[0].Passed || tries.Any(t => Json.Flag(t.Fact.Body, "isRework")))
            {
                return false;
            }
        }

        return true;
    }
}
