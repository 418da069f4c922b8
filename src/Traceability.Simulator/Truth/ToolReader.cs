using System.Text.Json;

namespace Traceability.Simulator.Truth;

/// <summary>What an attempt broke of the rules on tools.</summary>
internal sealed class ToolReader(FactBook book, FindingBag bag)
{
    public void Read(Tried attempt, JsonElement step)
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

    /// <summary>The tools that a unit's records name.</summary>
    public static IEnumerable<ToolUseAnswer> Uses(FactBook book, UnitPast past) => past.Attempts.SelectMany(a => Json.List(a.Fact.Body, "tools").Select(u =>
    {
        var (tool, setting) = (Json.Text(u, "tool")!, Json.Text(u, "setting"));
        return new ToolUseAnswer(a.Code, a.Number, a.Fact.Id, tool, setting, a.Fact.At, new ToolPast(book, tool).Suspicion(setting, a.Fact.At) is not null);
    }));

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

        var known = new ToolPast(book, tool);
        if (known.IsWithdrawn(at))
        {
            bag.Add(attempt, "tool-withdrawn", rule, policy);
        }

        if (known.Suspicion(Json.Text(use, "setting"), at) is { } suspicion)
        {
            bag.Add(attempt, suspicion, rule, policy);
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
}
