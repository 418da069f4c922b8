using System.Text.Json;

namespace Traceability.Simulator.Truth;

/// <summary>What an attempt broke, apart from intervals: order, material, components, tools, person, values, defects.</summary>
/// <remarks>Straight from the domain brief, "What is judged at a step", one list after the other.</remarks>
internal sealed class AttemptReader(FactBook book, UnitPast past, FindingBag bag, Func<string, UnitPast?> unitOf, IReadOnlyList<(string Parent, Inside Content)> insides)
{
    public void Read(Tried attempt)
    {
        Standing(attempt);
        if (attempt.Step is { } step)
        {
            Order(attempt, step);
            Materials(attempt, step);
            Components(attempt, step);
            Tools(attempt, step);
            Person(attempt, step);
            Values(attempt, step);
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
            if (past.LastAt(needed, attempt.Period, attempt.Began, attempt) is not { Passed: true })
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
            if (past.LastAt(hidden, attempt.Period, attempt.Began, attempt) is not { Passed: true, IsUnproven: false })
            {
                bag.Add(attempt, "hidden-step-not-proven", hidden, policy);
            }
        }
    }

    private void Materials(Tried attempt, JsonElement step)
    {
        var requirements = MaterialsOf(past, step);
        var uses = Json.List(attempt.Fact.Body, "materials").ToList();
        foreach (var requirement in requirements)
        {
            attempt.Opportunities++;
            var rule = Json.Text(requirement, "code")!;
            var mine = uses.Where(u => Serves(requirements, u) == rule).ToList();
            if (!mine.Any(u => Json.Texts(u, "lots").Length > 0))
            {
                bag.Add(attempt, "material-not-recorded", rule, Json.Member(requirement, "policy"));
            }

            mine.ForEach(u => Use(attempt, requirement, rule, u));
            Quantity(attempt, requirement, rule, mine);
        }

        foreach (var use in uses.Where(u => Serves(requirements, u) is null && !IsUntraced(step, u)))
        {
            bag.Add(attempt, "material-not-required", string.Empty);
        }
    }

    private static bool IsUntraced(JsonElement step, JsonElement use) =>
        Json.List(step, "materials").Any(m => Json.Text(m, "tracing") == "none" && Json.Text(m, "item") == Json.Text(use, "item"));

    /// <summary>The traced requirements of a step that hold for the unit.</summary>
    public static JsonElement[] MaterialsOf(UnitPast past, JsonElement step) =>
        [.. Json.List(step, "materials").Where(m => Json.Text(m, "tracing") != "none" && past.Applies(m))];

    /// <summary>The requirement that a recorded material serves: the one it names, else the first that takes its item.</summary>
    public static string? Serves(JsonElement[] requirements, JsonElement use)
    {
        bool Takes(JsonElement r) =>
            Json.Text(r, "item") == Json.Text(use, "item") || Json.Texts(r, "alternatives").Contains(Json.Text(use, "item"));

        var named = Json.Text(use, "requirement");
        var chosen = requirements.Where(r => Json.Text(r, "code") == named && Takes(r)).Concat(requirements.Where(Takes)).ToList();
        return chosen.Count == 0 ? null : Json.Text(chosen[0], "code");
    }

    private void Use(Tried attempt, JsonElement requirement, string rule, JsonElement use)
    {
        var lots = Json.Texts(use, "lots").Distinct(StringComparer.Ordinal).ToArray();
        var policy = Json.Member(requirement, "policy");
        var (item, container, at) = (Json.Text(use, "item")!, Json.Text(use, "container"), attempt.Fact.At);
        if (lots.Length == 0)
        {
            return;
        }

        void Found(bool isSo, string kind)
        {
            if (isSo)
            {
                bag.Add(attempt, kind, rule, policy);
            }
        }

        Found(lots.Length > 1, "lot-ambiguous");
        Found(container is null && Json.Text(requirement, "tracing") == "container", "container-not-recorded");
        Found(lots.All(l => !IsKnown($"{item}/{l}")), "lot-unknown");
        Found(lots.All(l => IsKnown($"{item}/{l}") && !IsReleased($"{item}/{l}", at)), "lot-not-released");
        Found(lots.All(l => IsKnown($"{item}/{l}") && ExpiryOf($"{item}/{l}") <= at), "lot-expired");
        if (container is null || lots.Length > 1 || !IsKnown($"{item}/{lots[0]}"))
        {
            return;
        }

        var opened = OpenedAt(book, $"{item}/{lots[0]}", container);
        var life = book.About("item", item, "item-defined").Select(i => Json.Duration(i.Body, "lifeAfterOpening")).LastOrDefault();
        if (life is not null || Json.Text(requirement, "tracing") == "container")
        {
            Found(opened is null || opened.At > at, "container-not-opened");
            Found(opened is not null && opened.At <= at && life is { } span && at >= opened.At + span, "container-past-life");
        }
    }

    /// <summary>The opening of a container.</summary>
    public static SeenFact? OpenedAt(FactBook book, string lot, string container) =>
        book.OfLot(lot).FirstOrDefault(f => f.Type == "container-opened" && Json.Text(f.Body, "container") == container);

    private bool IsKnown(string lot) => book.OfLot(lot).Any(f => f.Type == "lot-received");

    private bool IsReleased(string lot, DateTimeOffset at)
    {
        var released = false;
        foreach (var fact in book.OfLot(lot).Where(f => f.At <= at))
        {
            released = fact.Type switch
            {
                "lot-received" => Json.Flag(fact.Body, "isReleased"),
                "lot-released" => true,
                "lot-quarantined" => false,
                _ => released,
            };
        }

        return released;
    }

    private DateTimeOffset? ExpiryOf(string lot) => book.OfLot(lot)
        .Where(f => f.Type is "lot-received" or "lot-expiry-set").OrderBy(f => f.Type == "lot-expiry-set")
        .Select(f => Json.Time(f.Body, "expiresAt")).LastOrDefault(t => t is not null);

    private void Quantity(Tried attempt, JsonElement requirement, string rule, List<JsonElement> uses)
    {
        var (least, most) = (Json.Member(requirement, "quantityMin"), Json.Member(requirement, "quantityMax"));
        if ((least is null && most is null) || uses.Count == 0)
        {
            return;
        }

        var policy = Json.Member(requirement, "policy");
        if (uses.Any(u => Json.Member(u, "quantity") is null))
        {
            bag.Add(attempt, "quantity-not-recorded", rule, policy);
            return;
        }

        var unit = Json.Text((least ?? most)!.Value, "unit")!;
        var total = uses.Sum(u => Units.Convert(Json.Member(u, "quantity")!.Value, unit));
        if ((least is { } l && total < Units.Convert(l, unit)) || (most is { } m && total > Units.Convert(m, unit)))
        {
            bag.Add(attempt, "quantity-out-of-limits", rule, policy);
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

    private void Tools(Tried attempt, JsonElement step)
    {
        var open = Json.List(step, "tools").ToList();
        attempt.Opportunities += open.Count;
        foreach (var use in Json.List(attempt.Fact.Body, "tools"))
        {
            var tool = Json.Text(use, "tool")!;
            var defined = book.About("tool", tool, "tool-defined").LastOrDefault();
            var toolClass = defined is null ? null : Json.Text(defined.Body, "toolClass");
            var place = open.FindIndex(r => Json.Text(r, "code") == Json.Text(use, "requirement"));
            place = place >= 0 ? place : open.FindIndex(r => Json.Text(r, "toolClass") == toolClass);
            place = place < 0 && open.Count > 0 ? 0 : place;
            JsonElement? requirement = place >= 0 ? open[place] : null;
            if (place >= 0)
            {
                open.RemoveAt(place);
            }

            Tool(attempt, use, tool, defined, requirement);
        }

        open.ForEach(r => bag.Add(attempt, "tool-not-recorded", Json.Text(r, "code")!, Json.Member(r, "policy")));
    }

    private void Tool(Tried attempt, JsonElement use, string tool, SeenFact? defined, JsonElement? requirement)
    {
        var rule = requirement is { } r ? Json.Text(r, "code")! : tool;
        JsonElement? policy = requirement is { } q ? Json.Member(q, "policy") : null;
        var at = attempt.Fact.At;
        if (defined is null)
        {
            bag.Add(attempt, "tool-unknown", rule, policy);
            return;
        }

        var calibrations = book.About("tool", tool, "tool-calibrated").ToList();
        var last = calibrations.LastOrDefault(c => c.At <= at);
        if (Json.Flag(defined.Body, "needsCalibration") && (last is null || !Json.Flag(last.Body, "leftGood") || Json.Time(last.Body, "validUntil") <= at))
        {
            bag.Add(attempt, "tool-not-calibrated", rule, policy);
        }

        if (calibrations.FirstOrDefault(c => c.At > at) is { } next && !Json.Flag(next.Body, "foundGood"))
        {
            bag.Add(attempt, "tool-found-out", rule, policy);
        }

        if (requirement is { } asked)
        {
            Setting(attempt, use, tool, defined, asked, rule);
        }
    }

    private void Setting(Tried attempt, JsonElement use, string tool, SeenFact defined, JsonElement asked, string rule)
    {
        var policy = Json.Member(asked, "policy");
        if (Json.Text(defined.Body, "toolClass") != Json.Text(asked, "toolClass"))
        {
            bag.Add(attempt, "tool-wrong-class", rule, policy);
            return;
        }

        var (prescribed, read) = (Json.Text(asked, "setting"), Json.Text(use, "setting"));
        if (prescribed is not null && read is not null && read != prescribed)
        {
            bag.Add(attempt, "tool-setting-wrong", rule, policy);
        }

        var (least, most) = (Json.Member(asked, "torqueMin"), Json.Member(asked, "torqueMax"));
        if (read is null)
        {
            if (prescribed is not null || least is not null || most is not null)
            {
                bag.Add(attempt, "tool-setting-not-verified", rule, policy);
            }

            return;
        }

        if (least is null && most is null)
        {
            return;
        }

        var verified = book.About("tool", tool, "tool-setting-verified").LastOrDefault(v => Json.Text(v.Body, "setting") == read && v.At <= attempt.Fact.At);
        if (verified is null || Json.Time(verified.Body, "validUntil") <= attempt.Fact.At)
        {
            bag.Add(attempt, "tool-setting-not-verified", rule, policy);
            return;
        }

        var torque = Units.Convert(verified.Body.GetProperty("torque"), "N.m");
        if ((least is { } l && torque < Units.Convert(l, "N.m")) || (most is { } m && torque > Units.Convert(m, "N.m")))
        {
            bag.Add(attempt, "tool-torque-out-of-limits", rule, policy);
        }
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

        var qualified = false;
        foreach (var fact in book.About("subject", person, "qualification-granted", "qualification-withdrawn"))
        {
            if (fact.At <= attempt.Fact.At && Json.Text(fact.Body, "qualification") == qualification)
            {
                qualified = fact.Type == "qualification-granted" && !(Json.Time(fact.Body, "validUntil") <= attempt.Fact.At);
            }
        }

        if (!qualified)
        {
            bag.Add(attempt, "person-not-qualified", qualification);
        }
    }

    private void Values(Tried attempt, JsonElement step)
    {
        var asked = Json.List(step, "characteristics");
        foreach (var characteristic in asked)
        {
            var code = Json.Text(characteristic, "code")!;
            var policy = Json.Member(characteristic, "policy");
            var isCheck = Json.Text(characteristic, "unit") is null;
            var values = Json.List(attempt.Fact.Body, isCheck ? "checks" : "measurements").Where(v => Json.Text(v, "characteristic") == code).ToList();
            var isRequired = Json.Flag(characteristic, "isRequired", otherwise: true);
            attempt.Opportunities += values.Count > 0 || isRequired ? 1 : 0;
            if (values.Count == 0 && isRequired)
            {
                attempt.IsUnproven = true;
                bag.Add(attempt, "characteristic-not-recorded", code, policy);
            }

            foreach (var value in values)
            {
                var kind = isCheck ? (Json.Flag(value, "passed") ? null : "check-failed") : Judge(attempt, characteristic, value);
                if (kind is not null)
                {
                    attempt.IsUnproven = true;
                    bag.Add(attempt, kind, code, policy);
                }
            }
        }

        foreach (var (list, isCheck) in new[] { ("measurements", false), ("checks", true) })
        {
            foreach (var value in Json.List(attempt.Fact.Body, list))
            {
                if (!asked.Any(c => Json.Text(c, "code") == Json.Text(value, "characteristic") && (Json.Text(c, "unit") is null) == isCheck))
                {
                    bag.Add(attempt, "characteristic-not-required", Json.Text(value, "characteristic")!);
                }
            }
        }
    }

    private string? Judge(Tried attempt, JsonElement characteristic, JsonElement value)
    {
        var unit = Json.Text(characteristic, "unit")!;
        if (!Units.Fits(Json.Text(value, "unit")!, unit))
        {
            return "value-wrong-dimension";
        }

        var measured = Units.Convert(value, unit);
        decimal? lower = null, upper = null;
        if ((Json.Member(characteristic, "lower") is { } low && (lower = Limit(attempt, low, unit)) is null)
            || (Json.Member(characteristic, "upper") is { } high && (upper = Limit(attempt, high, unit)) is null))
        {
            return "limit-not-derivable";
        }

        var guard = Json.Number(characteristic, "guardBand") ?? 0m;
        return measured < lower || measured > upper ? "value-out-of-limits"
            : guard > 0 && (measured < lower + guard || measured > upper - guard) ? "value-in-guard-band"
            : null;
    }

    private decimal? Limit(Tried attempt, JsonElement limit, string unit)
    {
        var sum = Json.Number(limit, "constant") ?? 0m;
        foreach (var term in Json.List(limit, "terms"))
        {
            var records = Json.Text(term, "position") is { } position
                ? past.Contents.Where(c => c.Position == position && c.Holds(attempt.Fact.At)).Select(c => unitOf(c.Component)).OfType<UnitPast>()
                    .SelectMany(u => u.Attempts).Where(a => a.Fact.At <= attempt.Fact.At)
                : past.Attempts.Where(a => a.Fact.At <= attempt.Fact.At && past.Counts(a, attempt.Period));
            var found = records.Where(a => a.Code == Json.Text(term, "step"))
                .SelectMany(a => Json.List(a.Fact.Body, "measurements")).Where(m => Json.Text(m, "characteristic") == Json.Text(term, "characteristic")).ToList();
            if (found.Count == 0)
            {
                return null;
            }

            sum += (Json.Number(term, "factor") ?? 1m) * Units.Convert(found[^1], unit);
        }

        return sum;
    }
}
