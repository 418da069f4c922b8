using System.Text.Json;
using Traceability.Simulator.Plant;

namespace Traceability.Simulator.Truth;

/// <summary>All facts with corrections and voids applied, by what they are about. Everything is looked up by plain loops.</summary>
internal sealed class FactBook
{
    private readonly List<SeenFact> _all = [];
    private readonly ILookup<string, SeenFact> _byType;
    private readonly Dictionary<string, List<SeenFact>> _units = new(StringComparer.Ordinal);
    private readonly Dictionary<string, List<SeenFact>> _lots = new(StringComparer.Ordinal);
    private readonly Dictionary<string, List<SeenFact>> _batches = new(StringComparer.Ordinal);
    private readonly Dictionary<string, List<(DateTimeOffset At, double Kelvin)>> _temperatures = new(StringComparer.Ordinal);
    private readonly Dictionary<string, TimeZoneInfo> _zones = new(StringComparer.Ordinal);

    public FactBook(IReadOnlyList<PlantFact> facts)
    {
        var sent = facts.Select(SeenFact.Of).ToList();
        var changes = sent.Where(f => f.Type is "record-corrected" or "record-voided").OrderBy(f => f.At).ThenBy(f => f.Id).ToList();
        foreach (var fact in sent.Where(f => f.Type is not ("record-corrected" or "record-voided")))
        {
            _all.Add(Effective(fact, changes));
        }

        var byTime = _all.OrderBy(f => f.At).ThenBy(f => f.Id).ToList();
        _byType = byTime.ToLookup(f => f.Type, StringComparer.Ordinal);
        foreach (var fact in byTime)
        {
            Add(_units, Json.Unit(fact.Body), fact);
            Add(_batches, Json.Batch(fact.Body), fact);
            if (fact.Type.StartsWith("lot-", StringComparison.Ordinal) || fact.Type.StartsWith("container-", StringComparison.Ordinal) || fact.Type == "stock-counted")
            {
                Add(_lots, Json.Lot(fact.Body), fact);
            }
        }
    }

    /// <summary>Every unit that a fact is about.</summary>
    public IEnumerable<string> Units => _units.Keys;

    /// <summary>Every lot that came in, as "item/lot".</summary>
    public IEnumerable<string> Lots => _lots.Keys;

    /// <summary>What counts of a unit, by when it happened; void facts included.</summary>
    public IReadOnlyList<SeenFact> OfUnit(string unit) => _units.TryGetValue(unit, out var facts) ? facts : [];

    /// <summary>What counts of a batch ("item/batch"), by when it happened; void facts included.</summary>
    public IReadOnlyList<SeenFact> OfBatch(string batch) => _batches.TryGetValue(batch, out var facts) ? facts : [];

    /// <summary>What counts of a lot, by when it happened.</summary>
    public IReadOnlyList<SeenFact> OfLot(string lot) => _lots.TryGetValue(lot, out var facts) ? [.. facts.Where(f => !f.IsVoided)] : [];

    /// <summary>The facts of a type about something named by one text member, by when they happened.</summary>
    public IEnumerable<SeenFact> About(string member, string name, params string[] types) => types
        .SelectMany(t => _byType[t])
        .Where(f => !f.IsVoided && Json.Text(f.Body, member) == name)
        .OrderBy(f => f.At).ThenBy(f => f.Id);

    /// <summary>The temperatures that were read at a place, by time.</summary>
    public IReadOnlyList<(DateTimeOffset At, double Kelvin)> Temperatures(string place)
    {
        if (!_temperatures.TryGetValue(place, out var readings))
        {
            readings = [.. About("place", place, "temperature-recorded")
                .SelectMany(f => Json.List(f.Body, "readings").Select(r => (Json.Time(r, "at")!.Value + f.Offset, (double)Truth.Units.Convert(r.GetProperty("temperature"), "K"))))
                .OrderBy(r => r.Item1)];
            _temperatures[place] = readings;
        }

        return readings;
    }

    /// <summary>The released revisions of an item's routing, in the order of their release.</summary>
    public IReadOnlyList<JsonElement> Released(string item)
    {
        var drafts = new List<JsonElement>();
        var released = new List<JsonElement>();
        foreach (var fact in _all)
        {
            if (fact.Type == "routing-drafted" && Json.Member(fact.Body, "revision") is { } draft && Json.Text(draft, "item") == item)
            {
                drafts.RemoveAll(d => Json.Text(d, "revision") == Json.Text(draft, "revision"));
                drafts.Add(draft);
            }
            else if (fact.Type == "routing-released" && Json.Text(fact.Body, "item") == item)
            {
                released.AddRange(drafts.Where(d => Json.Text(d, "revision") == Json.Text(fact.Body, "revision")));
            }
        }

        return released;
    }

    /// <summary>The calendar day of a moment at a station; in UTC where the station's site is not known.</summary>
    public DateOnly? Day(DateTimeOffset at, string? station)
    {
        if (station is null || !TryZone(station, out var zone))
        {
            return null;
        }

        return DateOnly.FromDateTime(TimeZoneInfo.ConvertTime(at, zone).DateTime);
    }

    private static void Add(Dictionary<string, List<SeenFact>> map, string? key, SeenFact fact)
    {
        if (key is null)
        {
            return;
        }

        if (!map.TryGetValue(key, out var list))
        {
            map[key] = list = [];
        }

        list.Add(fact);
    }

    private static SeenFact Effective(SeenFact fact, List<SeenFact> changes)
    {
        var (body, clock) = (fact.Body, fact);
        var isVoided = false;
        foreach (var change in changes)
        {
            if (Json.Text(change.Body, "record") != fact.Id.ToString() || !Stands(change, changes))
            {
                continue;
            }

            isVoided |= change.Type == "record-voided";
            if (change.Type == "record-corrected")
            {
                // The same time is still the first terminal's; another one was read off the clock of who corrects.
                body = change.Body.GetProperty("replacement");
                clock = Json.Time(body, "occurredAt") == Json.Time(fact.Body, "occurredAt") ? fact : change;
            }
        }

        return fact.As(body, clock, isVoided);
    }

    // A change counts unless a void that counts names it.
    private static bool Stands(SeenFact change, List<SeenFact> changes) =>
        !changes.Any(c => c.Type == "record-voided" && Json.Text(c.Body, "record") == change.Id.ToString() && Stands(c, changes));

    private bool TryZone(string station, out TimeZoneInfo zone)
    {
        if (_zones.TryGetValue(station, out zone!))
        {
            return true;
        }

        var site = About("subject", station, "station-defined").Select(f => Json.Text(f.Body, "site")).LastOrDefault();
        var name = site is null ? null : About("site", site, "site-defined").Select(f => Json.Text(f.Body, "timeZone")).LastOrDefault();
        zone = name is null ? TimeZoneInfo.Utc : TimeZoneInfo.FindSystemTimeZoneById(name);
        _zones[station] = zone;
        return name is not null;
    }
}
