using System.Text.Json;

namespace Traceability.Simulator.Truth;

/// <summary>What an attempt broke, apart from intervals: order, components, person and defects here, the rest next to it.</summary>
/// <remarks>Straight from the domain brief, "What is judged at a step", one list after the other.</remarks>
internal sealed class AttemptReader(FactBook book, UnitPast past, FindingBag bag, Func<string, UnitPast?> unitOf, IReadOnlyList<(string Parent, Inside Content)> insides)
{
    public void Read(Tried attempt)
    {
        Standing(attempt);
        if (attempt.Step is { } step)
        {
            Order(attempt, step);
            new MaterialReader(book, past, bag).Read(attempt, step);
            Components(attempt, step);
            new ToolReader(book, bag).Read(attempt, step);
            Person(attempt, step);
            new ValueReader(past, bag, unitOf).Read(attempt, step);
        }

        foreach (var defect in Json.List(attempt.Fact.Body, "defects"))
        {
            var code = Json.Text(defect, "defect")!;
            var before = attempt.Defects;
            bag.Add(attempt, "defect-reported", code);
            attempt.Defects = before + Math.Max(1, (int)(Json.Number(defect, "count") ?? 1));
            if (!book.About("defect", code, "defect-code-defined").Any())
            {
                bag.Add(attempt, "defect-unknown", code);
            }
        }
    }

    /// <summary>A component that was put in outside of a step's completion.</summary>
    public void ReadInstalled(SeenFact fact) =>
        Component(null, fact, fact.Step, Json.Text(fact.Body, "position")!, Json.Unit(fact.Body, "component")!, past.Periods.Last(p => p.From <= fact.At).Revision);

    private void Standing(Tried attempt)
    {
        if (attempt.Fact.IsDoubtful)
        {
            bag.Add(attempt, "clock-doubtful", string.Empty);
        }

        bool held = false, ended = false;
        foreach (var fact in past.Standing.TakeWhile(f => f != attempt.Fact))
        {
            held = fact.Type switch { "unit-held" => true, "unit-hold-lifted" => false, _ => held };
            ended = fact.Type switch { "unit-released" or "unit-shipped" or "unit-scrapped" => true, "unit-returned" => false, _ => ended };
        }

        if (held)
        {
            bag.Add(attempt, "worked-on-while-held", string.Empty);
        }

        if (ended)
        {
            bag.Add(attempt, "worked-on-after-end", string.Empty);
        }

        if (attempt.Step is null)
        {
            bag.Add(attempt, past.Periods[attempt.Period].Revision is null ? "no-effective-revision" : "step-not-in-revision", string.Empty);
        }
    }

    private void Order(Tried attempt, JsonElement step)
    {
        if (!past.Applies(step))
        {
            bag.Add(attempt, "step-not-for-unit", string.Empty);
        }

        var stations = Json.Texts(step, "stations");
        if (stations.Length > 0 && !stations.Contains(attempt.Fact.Station))
        {
            bag.Add(attempt, "station-not-for-step", string.Empty);
        }

        var revision = past.Periods[attempt.Period].Revision!.Value;
        var mine = past.StepsOf(revision).Select(s => Json.Text(s, "code")!).ToList();
        var policy = Json.Member(step, "orderPolicy");
        foreach (var needed in Json.Texts(step, "prerequisites").Where(p => mine.Contains(p) && p != attempt.Code))
        {
            if (past.LastStandingAt(needed, attempt.Period, attempt.Began, attempt) is not { Passed: true })
            {
                bag.Add(attempt, "prerequisite-not-passed", needed, policy);
            }
        }

        var hides = Json.Texts(step, "hides");
        if (hides.Length == 0 && Json.Flag(step, "isPointOfNoReturn"))
        {
            hides = [.. Json.List(revision, "steps").Select(s => Json.Text(s, "code")!).TakeWhile(c => c != attempt.Code)];
        }

        foreach (var hidden in hides.Where(h => mine.Contains(h) && h != attempt.Code))
        {
            if (past.LastStandingAt(hidden, attempt.Period, attempt.Began, attempt) is not { Passed: true, IsUnproven: false })
            {
                bag.Add(attempt, "hidden-step-not-proven", hidden, policy);
            }
        }
    }

    private void Components(Tried attempt, JsonElement step)
    {
        foreach (var requirement in Json.List(step, "components").Where(c => past.Applies(c)))
        {
            attempt.Opportunities++;
            var position = Json.Text(requirement, "position")!;
            if (!past.Contents.Any(c => c.Position == position && c.Holds(attempt.Fact.At)))
            {
                bag.Add(attempt, "component-not-recorded", position, Json.Member(requirement, "policy"));
            }
        }

        foreach (var use in Json.List(attempt.Fact.Body, "components"))
        {
            Component(attempt, attempt.Fact, attempt.Code, Json.Text(use, "position")!, Json.Unit(use, "component")!, past.Periods[attempt.Period].Revision);
        }
    }

    private void Component(Tried? attempt, SeenFact by, string step, string position, string component, JsonElement? revision)
    {
        if (revision is not { } r)
        {
            return;
        }

        var places = Json.List(r, "steps").SelectMany(s => Json.List(s, "components")).Where(c => Json.Text(c, "position") == position && past.Applies(c)).ToList();
        JsonElement? policy = places.Count > 0 ? Json.Member(places[0], "policy") : null;
        void Found(bool isSo, string kind)
        {
            if (isSo)
            {
                bag.Add(attempt, by, step, kind, position, kind == "component-not-required" ? null : policy);
            }
        }

        Found(places.Count == 0, "component-not-required");
        var item = component.Split('/')[0];
        Found(places.Count > 0 && Json.Text(places[0], "item") != item && !Json.Texts(places[0], "alternatives").Contains(item), "component-wrong-item");
        if (unitOf(component) is not { Opened.IsVoided: false } other)
        {
            Found(true, "component-unknown");
        }
        else
        {
            bool released = false, held = false;
            foreach (var fact in other.Standing.Where(f => f.At <= by.At))
            {
                released = fact.Type switch { "unit-released" => true, "unit-scrapped" => false, _ => released };
                held = fact.Type switch { "unit-held" => true, "unit-hold-lifted" => false, _ => held };
            }

            Found(places.Count > 0 && Json.Flag(places[0], "mustBeReleased") && !released, "component-not-released");
            Found(held, "component-held");
        }

        Found(
            insides.Any(i => i.Content.Component == component && i.Content.Holds(by.At) && (i.Parent != past.Unit || i.Content.Position != position)),
            "component-elsewhere");
    }

    private void Person(Tried attempt, JsonElement step)
    {
        if (Json.Text(step, "qualification") is not { } qualification)
        {
            return;
        }

        if (attempt.Fact.Person is not { } person)
        {
            bag.Add(attempt, "person-not-recorded", qualification);
            return;
        }

        if (IsQualified(person, qualification, attempt.Fact.At))
        {
            return;
        }

        var supervisor = Json.Text(attempt.Fact.Body, "supervisor");
        var isKnown = book.About("subject", person, "person-defined").Any();
        if (!Json.Flag(step, "allowsSupervised") || !isKnown || supervisor is null || supervisor == person)
        {
            bag.Add(attempt, "person-not-qualified", qualification);
        }
        else if (!IsQualified(supervisor, qualification, attempt.Fact.At))
        {
            bag.Add(attempt, "supervisor-not-qualified", qualification);
        }
    }

    // The last word counts: a grant, a training that grants, a withdrawal.
    private bool IsQualified(string person, string qualification, DateTimeOffset at)
    {
        var qualified = false;
        foreach (var fact in book.About("subject", person, "qualification-granted", "qualification-withdrawn", "training-completed").Where(f => f.At <= at))
        {
            var isAbout = Json.Text(fact.Body, "qualification") == qualification || Json.Texts(fact.Body, "grants").Contains(qualification);
            qualified = isAbout ? fact.Type != "qualification-withdrawn" && !(Json.Time(fact.Body, "validUntil") <= at) : qualified;
        }

        return qualified;
    }
}
