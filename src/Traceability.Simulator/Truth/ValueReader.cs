using System.Text.Json;

namespace Traceability.Simulator.Truth;

/// <summary>What an attempt broke of the rules on measured values and checks.</summary>
internal sealed class ValueReader(UnitPast past, FindingBag bag, Func<string, UnitPast?> unitOf)
{
    public void Read(Tried attempt, JsonElement step)
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
