using System.Text.Json;

namespace Traceability.Simulator.Truth;

/// <summary>Which lots a unit's records name, and what they should name and don't.</summary>
internal sealed class GapReader(UnitPast past, Func<string, UnitPast?> unitOf)
{
    private readonly List<GapAnswer> _gaps = [];

    public static IEnumerable<UsageAnswer> Usages(UnitPast past)
    {
        if (past.Opened is { IsVoided: false } opened && Json.Text(opened.Body, "lot") is { } own)
        {
            yield return new(
                string.Empty, opened.Id, past.Item, own, null, false, opened.At - opened.Uncertainty, opened.At + opened.Uncertainty, opened.Station);
        }

        foreach (var attempt in past.Attempts)
        {
            foreach (var use in Json.List(attempt.Fact.Body, "materials"))
            {
                var lots = Json.Texts(use, "lots").Distinct(StringComparer.Ordinal).ToList();
                foreach (var lot in lots)
                {
                    yield return new(
                        attempt.Code, attempt.Fact.Id, Json.Text(use, "item")!, lot, Json.Text(use, "container"), lots.Count > 1,
                        attempt.Earliest, attempt.Latest, attempt.Fact.Station)
                    {
                        Quantity = Json.Member(use, "quantity") is { } q ? (Json.Number(q, "value")!.Value, Json.Text(q, "unit")!) : null,
                    };
                }
            }
        }
    }

    public IReadOnlyList<GapAnswer> Read()
    {
        OwnLot();
        foreach (var attempt in past.Attempts.Where(a => a.Step is not null))
        {
            Recorded(attempt, attempt.Step!.Value);
        }

        foreach (var attempt in past.Voided.Where(v => v.Step is { } s && past.Applies(s) && !past.Attempts.Any(a => a.Code == v.Code)))
        {
            Whole(attempt.Step!.Value, "voided", attempt.Earliest, attempt.Latest, attempt.Fact.Station);
        }

        Unrecorded();
        UnknownComponents();
        TakenOut();
        return _gaps;
    }

    // Bought, or said to be of a lot by a void record only.
    private void OwnLot()
    {
        var named = past.Opened is { } o && Json.Text(o.Body, "lot") is not null;
        var reason = past.Opened is not { IsVoided: true } ? "not-recorded" : "voided";
        if (reason == "voided" ? named || past.IsBought : past.IsBought && !named)
        {
            DateTimeOffset? by = past.Opened is { IsVoided: false } opened ? opened.At + opened.Uncertainty : null;
            _gaps.Add(new("own-lot", string.Empty, string.Empty, [past.Item], null, DateTimeOffset.MinValue, by, null, reason));
        }
    }

    // Put in, and nothing else is recorded of it.
    private void UnknownComponents()
    {
        foreach (var inside in past.Contents.Where(c => unitOf(c.Component) is null))
        {
            var by = inside.By;
            _gaps.Add(new(
                "own-lot", inside.At?.Code ?? string.Empty, inside.Position, [inside.Component.Split('/')[0]], null, by.At - by.Uncertainty, by.At + by.Uncertainty, null, "not-recorded"));
        }
    }

    private static string[] ItemsOf(JsonElement requirement) => [Json.Text(requirement, "item")!, .. Json.Texts(requirement, "alternatives")];

    private void Recorded(Tried attempt, JsonElement step)
    {
        var requirements = MaterialReader.MaterialsOf(past, step);
        foreach (var requirement in requirements)
        {
            var rule = Json.Text(requirement, "code")!;
            var named = Json.List(attempt.Fact.Body, "materials")
                .Where(u => MaterialReader.Serves(requirements, u) == rule && Json.Texts(u, "lots").Length > 0).ToList();
            if (named.Count == 0)
            {
                _gaps.Add(new("lot", attempt.Code, rule, ItemsOf(requirement), null, attempt.Earliest, attempt.Latest, attempt.Fact.Station, "not-recorded"));
            }

            foreach (var use in named.Where(u => Json.Text(requirement, "tracing") == "container" && Json.Text(u, "container") is null))
            {
                foreach (var lot in Json.Texts(use, "lots"))
                {
                    _gaps.Add(new(
                        "container", attempt.Code, rule, [Json.Text(use, "item")!], lot, attempt.Earliest, attempt.Latest, attempt.Fact.Station, "not-recorded"));
                }
            }
        }

        foreach (var place in Json.List(step, "components").Where(c => past.Applies(c)))
        {
            if (!IsFilled(place, attempt.Fact.At))
            {
                Serial(attempt.Code, place, "not-recorded", attempt.Earliest, attempt.Fact.At, attempt.Latest, attempt.Fact.Station);
            }
        }
    }

    private bool IsFilled(JsonElement place, DateTimeOffset at) =>
        past.Contents.Any(c => c.Position == Json.Text(place, "position") && c.Holds(at));

    // A step that must have been done by now: something that needs it was, or the unit left.
    private void Unrecorded()
    {
        if (past.Began is not { } from || past.Revision is not { } revision)
        {
            return;
        }

        var period = past.Periods.Count - 1;
        foreach (var step in past.StepsOf(revision))
        {
            var code = Json.Text(step, "code")!;
            if (past.LastAt(code, period, DateTimeOffset.MaxValue) is not null)
            {
                continue;
            }

            var latest = past.Standing.Where(f => f.Type is "unit-released" or "unit-shipped").Select(f => f.At + f.Uncertainty)
                .Concat(Json.List(revision, "steps").Where(s => Needs(revision, Json.Text(s, "code")!, code, []))
                    .Select(s => past.LastAt(Json.Text(s, "code")!, period, DateTimeOffset.MaxValue)).OfType<Tried>().Select(a => a.Latest)).ToList();
            if (latest.Count > 0)
            {
                Whole(step, "step-not-recorded", from, latest.Max(), null);
            }
        }
    }

    /// <summary>Whether a step needs another one, directly or through others: a prerequisite, or what it hides for good.</summary>
    public static bool Needs(JsonElement revision, string step, string other, HashSet<string> seen)
    {
        if (!seen.Add(step))
        {
            return false;
        }

        var steps = Json.List(revision, "steps");
        var definition = steps.First(s => Json.Text(s, "code") == step);
        var hides = Json.Texts(definition, "hides");
        if (hides.Length == 0 && Json.Flag(definition, "isPointOfNoReturn"))
        {
            hides = [.. steps.Select(s => Json.Text(s, "code")!).TakeWhile(c => c != step)];
        }

        return Json.Texts(definition, "prerequisites").Concat(hides)
            .Where(n => steps.Any(s => Json.Text(s, "code") == n))
            .Any(n => n == other || Needs(revision, n, other, seen));
    }

    // Taken out of a required place, nothing put in again, and the unit left.
    private void TakenOut()
    {
        var left = past.Standing.LastOrDefault(f => f.Type is "unit-released" or "unit-shipped");
        if (left is null || past.Revision is not { } revision)
        {
            return;
        }

        foreach (var gone in past.Contents.Where(c => c.To is { } to && to < left.At))
        {
            foreach (var step in past.StepsOf(revision))
            {
                foreach (var place in Json.List(step, "components").Where(c => past.Applies(c) && Json.Text(c, "position") == gone.Position))
                {
                    if (!past.Contents.Any(c => c != gone && c.Position == gone.Position && c.From >= gone.To))
                    {
                        Serial(Json.Text(step, "code")!, place, "not-recorded", gone.To!.Value, gone.To.Value, left.At, null);
                    }
                }
            }
        }
    }

    private void Whole(JsonElement step, string reason, DateTimeOffset from, DateTimeOffset to, string? station)
    {
        var code = Json.Text(step, "code")!;
        foreach (var requirement in MaterialReader.MaterialsOf(past, step))
        {
            _gaps.Add(new("lot", code, Json.Text(requirement, "code")!, ItemsOf(requirement), null, from, to, station, reason));
        }

        foreach (var place in Json.List(step, "components").Where(c => past.Applies(c) && !IsFilled(c, to)))
        {
            Serial(code, place, reason, from, from, to, station);
        }
    }

    // Something was put in there between these times, and before whatever is recorded there next.
    private void Serial(string step, JsonElement place, string reason, DateTimeOffset from, DateTimeOffset after, DateTimeOffset by, string? station)
    {
        var position = Json.Text(place, "position")!;
        var next = past.Contents.FirstOrDefault(c => c.Position == position && c.From > after);
        var to = next is not null && next.From + next.By.Uncertainty < by ? next.From + next.By.Uncertainty : by;
        _gaps.Add(new("serial", step, position, ItemsOf(place), null, from, to, station, reason));
    }
}
