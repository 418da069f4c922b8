using System.Text.Json;

namespace Traceability.Simulator.Truth;

/// <summary>What an attempt broke of the rules on material.</summary>
internal sealed class MaterialReader(FactBook book, UnitPast past, FindingBag bag)
{
    private readonly LotReader _lots = new(book);

    public void Read(Tried attempt, JsonElement step)
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
        Found(lots.All(l => !_lots.IsKnown($"{item}/{l}")), "lot-unknown");
        Found(lots.All(l => _lots.IsKnown($"{item}/{l}") && !_lots.IsReleased($"{item}/{l}", at)), "lot-not-released");
        Found(lots.All(l => _lots.IsKnown($"{item}/{l}") && _lots.LacksInspection($"{item}/{l}", at)), "lot-not-inspected");
        Found(lots.All(l => _lots.IsKnown($"{item}/{l}") && _lots.ExpiryAt($"{item}/{l}", at) <= at), "lot-expired");
        if (lots.All(l => _lots.IsKnown($"{item}/{l}")))
        {
            new LifeReader(book, bag).Read(attempt, rule, policy, item, lots);
        }

        if (container is null || lots.Length > 1 || !_lots.IsKnown($"{item}/{lots[0]}"))
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
}
