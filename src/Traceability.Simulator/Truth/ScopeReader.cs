namespace Traceability.Simulator.Truth;

/// <summary>Finds what a suspect lot or container reaches, by walking round and round until nothing is added.</summary>
internal sealed class ScopeReader
{
    private readonly FactBook _book;
    private readonly IReadOnlyDictionary<string, UnitAnswer> _units;
    private readonly string _item;
    private readonly string _lot;
    private readonly string? _container;
    private readonly List<Window> _windows;
    private readonly List<(string Item, List<Window> Windows)> _windowsOfMade = [];
    private readonly Dictionary<string, bool> _madeOfIt = new(StringComparer.Ordinal);
    private readonly Dictionary<string, List<Exposure>> _exposed = new(StringComparer.Ordinal);
    private readonly List<(string Parent, ContentAnswer Content)> _insides;
    private readonly List<UnitAnswer> _serialGaps;

    public ScopeReader(FactBook book, IReadOnlyDictionary<string, UnitAnswer> units, string item, string lot, string? container)
    {
        (_book, _units, _item, _lot, _container) = (book, units, item, lot, container);
        _insides = [.. units.Values.SelectMany(u => u.Contents.Select(c => (u.Unit, c)))];
        _serialGaps = [.. units.Values.Where(u => u.Gaps.Any(g => g.Kind == "serial"))];
        _windows = container is null ? [.. LotWindows(_item, lot), .. ContainerWindows(null)] : ContainerWindows(container);
        FollowLots(new LotReader(book));
    }

    public IReadOnlyList<ScopeMember> Read()
    {
        foreach (var unit in _units.Values)
        {
            unit.Usages.ToList().ForEach(u => Use(unit.Unit, u));
            unit.Gaps.ToList().ForEach(g => Gap(unit.Unit, g));
        }

        while (Spread())
        {
            // Round and round until nothing is added.
        }

        return [.. _exposed.OrderBy(e => e.Key, StringComparer.Ordinal).Select(e => new ScopeMember(
            e.Key,
            e.Value.Any(x => x.IsProven) ? ScopeVerdict.Proven : ScopeVerdict.Possible,
            Now(e.Value),
            PlaceOf(e.Key)))];
    }

    private static ScopeVerdict Now(List<Exposure> exposures)
    {
        var lasting = exposures.Where(x => x.To == DateTimeOffset.MaxValue).ToList();
        return lasting.Any(x => x.IsProven) ? ScopeVerdict.Proven : lasting.Count > 0 ? ScopeVerdict.Possible : ScopeVerdict.Cleared;
    }

    private static DateTimeOffset Later(DateTimeOffset a, DateTimeOffset b) => a > b ? a : b;

    private static DateTimeOffset Earlier(DateTimeOffset a, DateTimeOffset b) => a < b ? a : b;

    // Where the outermost unit is that it is inside of now.
    private string PlaceOf(string unit)
    {
        for (var depth = 0; depth < 10; depth++)
        {
            var outer = _insides.Where(i => i.Content.Component == unit && i.Content.To is null).OrderBy(i => i.Content.From).LastOrDefault();
            if (outer.Parent is null)
            {
                break;
            }

            unit = outer.Parent;
        }

        return _units[unit].Place;
    }

    private void Use(string unit, UsageAnswer use)
    {
        if (_madeOfIt.TryGetValue($"{use.Item}/{use.Lot}", out var wholly))
        {
            Used(unit, use, !use.IsOneOf && wholly);
            return;
        }

        if (use.Item != _item || use.Lot != _lot)
        {
            return;
        }

        var isProven = !use.IsOneOf;
        if (_container is not null && use.Container is null)
        {
            if (use.Step.Length > 0 && !Could(_windows, use.From, use.To, use.Station))
            {
                return;
            }

            isProven = false;
        }
        else if (_container is not null && use.Container != _container)
        {
            return;
        }

        Used(unit, use, isProven);
    }

    private void Used(string unit, UsageAnswer use, bool isProven)
    {
        var isOwn = use.Step.Length == 0;
        Add(unit, isOwn
            ? new(DateTimeOffset.MinValue, DateTimeOffset.MinValue, DateTimeOffset.MaxValue, isProven)
            : new(use.From, use.To, DateTimeOffset.MaxValue, isProven));
    }

    private void Gap(string unit, GapAnswer gap)
    {
        if (gap.Kind == "own-lot")
        {
            if ((gap.Items.Contains(_item, StringComparer.Ordinal) && (_container is not null || Could(_windows, gap.From, gap.To, null)))
                || _windowsOfMade.Exists(m => gap.Items.Contains(m.Item, StringComparer.Ordinal) && Could(m.Windows, gap.From, gap.To, null)))
            {
                Add(unit, new(gap.From, gap.From, DateTimeOffset.MaxValue, false));
            }

            return;
        }

        var mine = gap.Kind == "container" ? _container is not null && gap.Lot == _lot : true;
        var isOfIt = mine && gap.Items.Contains(_item, StringComparer.Ordinal) && Could(_windows, gap.From, gap.To, gap.Station);
        var isOfMade = gap.Kind != "container" && _windowsOfMade.Exists(m => gap.Items.Contains(m.Item, StringComparer.Ordinal) && Could(m.Windows, gap.From, gap.To, gap.Station));
        if (isOfIt || isOfMade)
        {
            Add(unit, new(gap.From, gap.From, DateTimeOffset.MaxValue, false));
        }
    }

    private bool Spread()
    {
        var grew = false;
        foreach (var (component, exposures) in _exposed.ToList())
        {
            foreach (var (parent, content) in _insides.Where(i => i.Content.Component == component))
            {
                foreach (var exposure in exposures.ToList())
                {
                    var to = Earlier(exposure.To, content.To ?? DateTimeOffset.MaxValue);
                    var from = Later(exposure.From, content.From);
                    var sure = Later(exposure.Sure, content.From);
                    grew |= from < to && Add(parent, new(from, sure, to, exposure.IsProven && sure < to));
                }
            }

            grew |= SpreadThroughGaps(component, exposures);
        }

        return grew;
    }

    // A component without serial may be any unit of the item that is itself reached and not known to be elsewhere.
    private bool SpreadThroughGaps(string component, List<Exposure> exposures)
    {
        var grew = false;
        var item = component.Split('/')[0];
        foreach (var unit in _serialGaps)
        {
            foreach (var gap in unit.Gaps.Where(g => g.Kind == "serial" && g.Items.Contains(item, StringComparer.Ordinal)))
            {
                foreach (var (free, end) in FreeTimes(component).Where(f => f.Free <= (gap.To ?? DateTimeOffset.MaxValue) && f.End > gap.From))
                {
                    foreach (var exposure in exposures.ToList())
                    {
                        var from = Later(Later(free, exposure.From), gap.From);
                        var to = Earlier(end, exposure.To);
                        grew |= from < to && Add(unit.Unit, new(from, from, to, false));
                    }
                }
            }
        }

        return grew;
    }

    private IEnumerable<(DateTimeOffset Free, DateTimeOffset End)> FreeTimes(string component)
    {
        var facts = _book.OfUnit(component).Where(f => !f.IsVoided).ToList();
        var gone = facts.LastOrDefault(f => f.Type is "unit-shipped" or "unit-scrapped");
        var end = _units[component].Place is "shipped" or "scrapped" && gone is not null ? gone.At : DateTimeOffset.MaxValue;
        var free = facts.FirstOrDefault(f => f.Type == "unit-opened")?.At ?? DateTimeOffset.MinValue;
        foreach (var inside in _insides.Where(i => i.Content.Component == component).OrderBy(i => i.Content.From))
        {
            if (free < Earlier(inside.Content.From, end))
            {
                yield return (free, Earlier(inside.Content.From, end));
            }

            free = Later(free, inside.Content.To ?? DateTimeOffset.MaxValue);
        }

        if (free < end)
        {
            yield return (free, end);
        }
    }

    private bool Add(string unit, Exposure exposure)
    {
        if (!_exposed.TryGetValue(unit, out var known))
        {
            _exposed[unit] = known = [];
        }

        if (known.Any(k => k.From <= exposure.From && k.To >= exposure.To && (!exposure.IsProven || (k.IsProven && k.Sure <= exposure.Sure))))
        {
            return false;
        }

        known.Add(exposure);
        return true;
    }

    // Lots that were made of the suspect's, at any depth: wholly, or together with others. Every draw of a mix holds each part. In the demo a lot is made once, at its beginning.
    private void FollowLots(LotReader lots)
    {
        var made = _book.Lots.Where(l => lots.SourcesOf(l).Any()).ToList();
        bool? Share(string lot)
        {
            var parts = lots.SourcesOf(lot).Select(s => Of(s.Lot, Json.Text(s.Source, "container"))).ToList();
            return parts.TrueForAll(p => p == false) ? false
                : parts.TrueForAll(p => p == true) || (lots.IsMix(lot) && parts.Contains(true)) ? true
                : null;
        }

        // True: all of it; false: none; null: perhaps, or some.
        bool? Of(string source, string? container) => source != $"{_item}/{_lot}" ? made.Contains(source) ? Share(source) : false
            : _container is null ? true
            : container is null ? null
            : container == _container;

        foreach (var lot in made.Where(l => l != $"{_item}/{_lot}" && Share(l) != false))
        {
            _madeOfIt[lot] = Share(lot) == true;
            _windowsOfMade.Add((lot.Split('/')[0], LotWindows(lot.Split('/')[0], lot.Split('/')[1])));
        }
    }

    private static bool Could(List<Window> windows, DateTimeOffset from, DateTimeOffset? to, string? station) => windows.Exists(w =>
        w.From <= (to ?? DateTimeOffset.MaxValue) && from <= w.To && (station is null || w.Stations.Length == 0 || w.Stations.Contains(station)));

    // From receipt until emptied, quarantined or moved away; a release after a quarantine puts it back.
    private List<Window> LotWindows(string item, string lot)
    {
        var facts = _book.OfLot($"{item}/{lot}");
        var begin = facts.FirstOrDefault(f => f.Type is "lot-received" or "lot-split" or "lot-merged" or "lot-mixed")?.Type;
        if (begin is null)
        {
            return [new(DateTimeOffset.MinValue, DateTimeOffset.MaxValue, [])];
        }

        return Follow(facts.Where(f => f.Type.StartsWith("lot-", StringComparison.Ordinal)), begin);
    }

    // From opening until emptied, and while the lot is there. A container that is named by its own stations is there.
    private List<Window> ContainerWindows(string? only)
    {
        var facts = _book.OfLot($"{_item}/{_lot}");
        var names = facts.Where(f => f.Type == "container-opened").Select(f => Json.Text(f.Body, "container")!)
            .Where(c => only is null || c == only).Distinct(StringComparer.Ordinal).ToList();
        var windows = new List<Window>();
        foreach (var name in names)
        {
            var mine = facts.Where(f => f.Type is "lot-quarantined" or "lot-released" or "lot-emptied" || Json.Text(f.Body, "container") == name);
            foreach (var window in Follow(mine, "container-opened"))
            {
                windows.AddRange(window.Stations.Length > 0 ? [window] : only is null ? [] : LotWindows(_item, _lot)
                    .Where(l => l.From <= window.To && window.From <= l.To)
                    .Select(l => new Window(Later(l.From, window.From), Earlier(l.To, window.To), l.Stations)));
            }
        }

        return only is not null && names.Count == 0 ? LotWindows(_item, _lot) : windows;
    }

    private static List<Window> Follow(IEnumerable<SeenFact> facts, string begin)
    {
        var done = new List<Window>();
        var open = new List<Window>();
        var paused = new List<Window>();
        void Close(SeenFact fact)
        {
            done.AddRange(open.Select(w => w with { To = fact.At + fact.Uncertainty }));
            open.Clear();
        }

        foreach (var fact in facts)
        {
            var from = fact.At - fact.Uncertainty;
            switch (fact.Type)
            {
                case "lot-quarantined":
                    paused.AddRange(open);
                    Close(fact);
                    break;
                case "lot-released":
                    open.AddRange(paused.Select(w => new Window(from, DateTimeOffset.MaxValue, w.Stations)));
                    paused.Clear();
                    break;
                case "lot-moved":
                    var wasPaused = paused.Count > 0;
                    Close(fact);
                    paused.Clear();
                    (wasPaused ? paused : open).Add(new(from, DateTimeOffset.MaxValue, Json.Texts(fact.Body, "stations")));
                    break;
                case "lot-emptied" or "container-emptied":
                    Close(fact);
                    paused.Clear();
                    break;
                default:
                    if (fact.Type == begin)
                    {
                        open.Add(new(from, DateTimeOffset.MaxValue, Json.Texts(fact.Body, "stations")));
                    }

                    break;
            }
        }

        return [.. done, .. open];
    }

    private sealed record Window(DateTimeOffset From, DateTimeOffset To, string[] Stations);

    private sealed record Exposure(DateTimeOffset From, DateTimeOffset Sure, DateTimeOffset To, bool IsProven);
}
