using System.Text.Json;

namespace Traceability.Simulator.Truth;

/// <summary>What the calibrations and checks of a tool say about the times between them.</summary>
/// <remarks>
/// From the reference page on judgements: suspect is the time from the last calibration or passed check before the tool was found outside
/// its limits until it was calibrated, or, for a failed check, until a check passed. A calibration is about all settings; a check of one
/// setting clears that one only, and a failed one makes suspect what was done at that setting or at one that nobody recorded.
/// </remarks>
internal sealed class ToolPast
{
    private readonly List<SeenFact> _facts;
    private readonly List<SeenFact> _decisions;

    public ToolPast(FactBook book, string tool)
    {
        _facts = [.. book.About("tool", tool, "tool-calibrated", "tool-checked")];
        _decisions = [.. book.About("tool", tool, "tool-withdrawn", "tool-reinstated")];
    }

    /// <summary>Whether the tool was out of use then.</summary>
    public bool IsWithdrawn(DateTimeOffset at) => _decisions.LastOrDefault(d => d.At <= at)?.Type == "tool-withdrawn";

    /// <summary>The finding on a use; null: the time is not suspect.</summary>
    public string? Suspicion(string? setting, DateTimeOffset at)
    {
        string? found = null;
        for (var i = 0; i < _facts.Count; i++)
        {
            if (!IsBad(_facts[i], setting))
            {
                continue;
            }

            var since = _facts.Take(i).LastOrDefault(f => IsGood(f, setting))?.At ?? DateTimeOffset.MinValue;
            var until = _facts[i].Type == "tool-calibrated" ? _facts[i].At : _facts.Skip(i + 1).FirstOrDefault(f => IsGood(f, setting))?.At ?? DateTimeOffset.MaxValue;
            if (at >= since && at < until)
            {
                found = _facts[i].At <= at ? "tool-check-failed" : found ?? "tool-found-out";
            }
        }

        return found;
    }

    private static bool IsBad(SeenFact fact, string? setting) => fact.Type == "tool-calibrated"
        ? !Json.Flag(fact.Body, "foundGood")
        : Verdict(fact.Body) == "failed" && (Json.Text(fact.Body, "setting") is not { } tried || setting is null || tried == setting);

    private static bool IsGood(SeenFact fact, string? setting) => fact.Type == "tool-calibrated"
        || (Verdict(fact.Body) == "passed" && (Json.Text(fact.Body, "setting") is not { } tried || tried == setting));

    // Inside the limits by the uncertainty: passed. One outside: failed. Else doubtful (ISO 14253-1:2017, clause 5).
    private static string Verdict(JsonElement check)
    {
        var doubtful = false;
        foreach (var reading in Json.List(check, "readings"))
        {
            foreach (var (limit, sign) in new[] { ("lower", 1), ("upper", -1) })
            {
                if (Json.Member(check, limit) is not { } set)
                {
                    continue;
                }

                var unit = Json.Text(set, "unit")!;
                var inside = sign * (Units.Convert(reading, unit) - Units.Convert(set, unit));
                if (inside < 0)
                {
                    return "failed";
                }

                doubtful |= Json.Member(check, "uncertainty") is { } guard && inside < Units.Convert(guard, unit);
            }
        }

        return doubtful ? "doubtful" : Json.Member(check, "lower") is null && Json.Member(check, "upper") is null ? "not-held" : "passed";
    }
}
