using System.Text.Json;

namespace Traceability.Simulator.Truth;

/// <summary>Collects findings; two with the same identity are one.</summary>
internal sealed class FindingBag
{
    // Kinds that count as a defect unless the routing says otherwise: those that show that the work is wrong.
    private static readonly HashSet<string> Defects = new(StringComparer.Ordinal)
    {
        "hidden-step-not-proven", "material-wrong-item", "lot-not-released", "lot-expired", "container-past-life", "quantity-out-of-limits",
        "pot-life-exceeded", "mix-part-wrong", "mix-ratio-out-of-limits",
        "component-wrong-item", "component-not-released", "component-held", "tool-wrong-class", "tool-setting-wrong", "tool-torque-out-of-limits",
        "characteristic-not-recorded", "value-out-of-limits", "value-wrong-dimension", "check-failed", "defect-reported",
        "interval-too-short", "interval-too-long",
    };

    private readonly List<FindingAnswer> _all = [];

    public IReadOnlyList<FindingAnswer> All => _all;

    /// <summary>Adds a finding on an attempt, and counts it there if it is a defect.</summary>
    public void Add(Tried attempt, string kind, string rule, JsonElement? policy = null)
    {
        var isDefect = policy is { } p ? Json.Flag(p, "countsAsDefect") : Defects.Contains(kind);
        if (Keep(new(kind, rule, attempt.Code, attempt.Number, attempt.Fact.Id, isDefect)) && isDefect)
        {
            attempt.Defects++;
        }
    }

    /// <summary>Adds a finding on an attempt, or on a fact that completes no step.</summary>
    public void Add(Tried? attempt, SeenFact by, string step, string kind, string rule, JsonElement? policy = null)
    {
        if (attempt is not null)
        {
            Add(attempt, kind, rule, policy);
            return;
        }

        Keep(new(kind, rule, step, 0, by.Id, policy is { } p ? Json.Flag(p, "countsAsDefect") : Defects.Contains(kind)));
    }

    private bool Keep(FindingAnswer finding)
    {
        if (_all.Any(f => f.Kind == finding.Kind && f.Rule == finding.Rule && f.Step == finding.Step && f.Attempt == finding.Attempt))
        {
            return false;
        }

        _all.Add(finding);
        return true;
    }
}

/// <summary>The few units of measure of the demo, each against the base of its kind; written apart from the service's own.</summary>
internal static class Units
{
    // Unit, kind, factor to the base, offset in the base. Sources: BIPM SI brochure; NIST SP 811 (2008), appendix B.8.
    private static readonly (string Unit, string Kind, decimal Factor, decimal Offset)[] Table =
    [
        ("m", "length", 1m, 0m), ("mm", "length", 0.001m, 0m), ("um", "length", 0.000001m, 0m), ("[in_i]", "length", 0.0254m, 0m),
        ("g", "mass", 1m, 0m), ("mg", "mass", 0.001m, 0m), ("kg", "mass", 1000m, 0m),
        ("N.m", "torque", 1m, 0m), ("cN.m", "torque", 0.01m, 0m),
        ("Pa", "pressure", 1m, 0m), ("kPa", "pressure", 1000m, 0m), ("mbar", "pressure", 100m, 0m),
        ("K", "temperature", 1m, 0m), ("Cel", "temperature", 1m, 273.15m),
        ("mV", "voltage", 0.001m, 0m), ("V", "voltage", 1m, 0m), ("A", "current", 1m, 0m), ("mA", "current", 0.001m, 0m),
        ("L/min", "flow", 1m, 0m), ("mL", "volume", 0.001m, 0m), ("L", "volume", 1m, 0m), ("1", "number", 1m, 0m), ("%", "number", 0.01m, 0m),
    ];

    /// <summary>Whether values in the one can be compared with values in the other.</summary>
    public static bool Fits(string from, string to) => from == to || KindOf(from) == KindOf(to);

    /// <summary>The value of a body with "value" and "unit", in another unit.</summary>
    public static decimal Convert(JsonElement quantity, string to)
    {
        return Convert(Json.Number(quantity, "value")!.Value, Json.Text(quantity, "unit")!, to);
    }

    /// <summary>The value in another unit.</summary>
    public static decimal Convert(decimal value, string from, string to)
    {
        if (from == to)
        {
            return value;
        }

        if (from == "[degF]" && to == "Cel")
        {
            return (value - 32m) * 5m / 9m;
        }

        var (source, target) = (Find(from), Find(to));
        return ((value * source.Factor) + source.Offset - target.Offset) / target.Factor;
    }

    private static string KindOf(string unit) => unit == "[degF]" ? "temperature" : Find(unit).Kind;

    private static (string Unit, string Kind, decimal Factor, decimal Offset) Find(string unit)
    {
        var row = Array.FindIndex(Table, r => r.Unit == unit);
        return row >= 0 ? Table[row] : throw new InvalidOperationException($"The recomputation does not know the unit {unit}.");
    }
}
