namespace Traceability.Simulator.Truth;

/// <summary>What a unit, and every unit inside it, lacks for its release.</summary>
/// <remarks>From the table of the reference page on release, row by row.</remarks>
internal sealed class ReleaseReader(FactBook book, IReadOnlyDictionary<string, UnitPast> pasts, IReadOnlyDictionary<string, UnitAnswer> units, DateTimeOffset at)
{
    // Findings that don't stop by default: evidence that is missing, or a remark.
    private static readonly HashSet<string> Remarks = new(StringComparer.Ordinal)
    {
        "material-not-recorded", "container-not-recorded", "material-not-required", "lot-ambiguous", "container-not-opened", "quantity-not-recorded",
        "component-not-recorded", "component-not-required", "component-not-removed", "component-removed-not-installed", "tool-not-recorded", "tool-found-out",
        "person-not-recorded", "characteristic-not-required", "mix-ratio-not-recorded", "defect-unknown", "clock-doubtful", "unit-opened-twice",
    };

    private static readonly string[] Departures =
        ["released-on-hold", "released-while-shipped", "shipped-unreleased", "shipped-on-hold", "shipped-twice", "returned-not-shipped", "acted-on-after-scrap"];

    /// <summary>Everything in the way, as "unit code step rule".</summary>
    public IReadOnlyList<string> Read(string unit)
    {
        var (place, held) = StandingOf(pasts[unit]);
        var found = new List<string>();
        found.AddRange(place switch { "in-stock" => ["already-released"], "shipped" => ["already-shipped"], "scrapped" => ["scrapped"], _ => Array.Empty<string>() });
        if (held)
        {
            found.Add("on-hold");
        }

        return [.. found.Select(code => $"{unit} {code}  "), .. Lacking(unit), .. Inside(unit)];
    }

    private static (string Place, bool Held) StandingOf(UnitPast past)
    {
        var (place, held) = ("in-process", false);
        foreach (var fact in past.Standing)
        {
            held = fact.Type switch { "unit-held" => true, "unit-hold-lifted" => false, _ => held };
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

        return (place, held);
    }

    private IEnumerable<string> Inside(string unit)
    {
        foreach (var component in pasts[unit].Contents.Where(c => c.To is null).Select(c => c.Component).Distinct(StringComparer.Ordinal))
        {
            if (!pasts.TryGetValue(component, out var past))
            {
                yield return $"{component} component-unknown  ";
                continue;
            }

            var (place, held) = StandingOf(past);
            string[] standing = [.. held ? ["on-hold"] : Array.Empty<string>(), .. place is "scrapped" or "shipped" ? ["component-not-on-site"] : Array.Empty<string>()];
            foreach (var line in standing.Select(code => $"{component} {code}  ").Concat(place is "in-process" or "returned" ? Lacking(component) : []).Concat(Inside(component)))
            {
                yield return line;
            }
        }
    }

    private IEnumerable<string> Lacking(string unit)
    {
        var (past, answer) = (pasts[unit], units[unit]);
        var kind = book.About("item", past.Item, "item-defined").Select(i => Json.Text(i.Body, "kind")).LastOrDefault();
        if (past.Revision is null && (book.Released(past.Item).Count > 0 || kind is not ("part" or "consumable")))
        {
            yield return $"{unit} no-effective-revision  ";
        }

        var steps = past.StepsOf(past.Revision).Select(s => (Code: Json.Text(s, "code")!, Step: s)).ToList();
        var lasts = steps.ToDictionary(s => s.Code, s => past.LastAt(s.Code, past.Periods.Count - 1, DateTimeOffset.MaxValue), StringComparer.Ordinal);
        var work = answer.Findings.Where(f => !Departures.Contains(f.Kind)).ToList();
        bool Failed(string step) => lasts.TryGetValue(step, out var last) && last is not null
            && work.Exists(f => f.IsDefect && f.Step == step && f.Attempt == last.Number && Stands(past, answer, f));
        foreach (var (code, _) in steps)
        {
            if (lasts[code] is null || Failed(code))
            {
                yield return $"{unit} {(lasts[code] is null ? "step-not-done" : "step-not-passed")} {code} {code}";
            }

            var end = past.Attempts.Where(a => a.Code == code).Select(a => a.Fact.At).DefaultIfEmpty(DateTimeOffset.MinValue).Max();
            if (past.StartsOf(code).Any(s => s.At > end))
            {
                yield return $"{unit} step-not-finished {code} {code}";
            }
        }

        foreach (var open in new IntervalReader(book, past, new()).Open().Where(o => o.FromStep != o.ToStep))
        {
            if (open.OverdueAt is not null || open.ReadyAt + open.Uncertainty > at)
            {
                yield return $"{unit} interval-open {open.ToStep} {open.Rule}";
            }
        }

        foreach (var f in work.Where(f => !Remarks.Contains(f.Kind) && Stands(past, answer, f) && !(f.IsDefect && f.Attempt > 0 && lasts.ContainsKey(f.Step))))
        {
            yield return $"{unit} finding-open {f.Step} {f.Kind}";
        }

        foreach (var n in answer.Nonconformances.Where(n => n.IsOpen && !(n.State == "open" && n.Kind != "nonconformance-reported" && Failed(n.Step))))
        {
            yield return $"{unit} nonconformance-open {n.Step} {n.Rule}";
        }

        foreach (var place in steps.SelectMany(s => Json.List(s.Step, "components")).Where(c => past.Applies(c)).Select(c => Json.Text(c, "position")!))
        {
            if (past.Contents.Any(c => c.Position == place) && past.Contents.All(c => c.Position != place || c.To is not null))
            {
                yield return $"{unit} position-empty  {place}";
            }
        }
    }

    // Of an attempt, until the step is done again; of a component, until it is out; of a nonconformance, until that is dealt with.
    private static bool Stands(UnitPast past, UnitAnswer answer, FindingAnswer f)
    {
        var isDealtWith = answer.Nonconformances.Any(n => n.Id == $"{f.Record}.{f.Kind}.{f.Rule}" && !n.IsOpen);
        var isDoneAgain = f.Attempt > 0 && past.Attempts.Any(a => a.Code == f.Step && a.Number > f.Attempt);
        return !isDealtWith && !isDoneAgain && !past.Contents.Any(c => c.To is not null && c.By.Id == f.Record && c.Position == f.Rule);
    }
}
