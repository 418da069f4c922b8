using Traceability.Domain.Facts;
using Traceability.Domain.Items;
using Traceability.Domain.Lots;
using Traceability.Domain.Primitives;
using Traceability.Domain.Routings;
using Traceability.Domain.Sites;

namespace Traceability.Service.Features.MasterData;

/// <summary>Finds what a definition names that neither the file defines nor the service knows.</summary>
/// <remarks>An entry that could not be read still defines its name: what refers to it is not at fault.</remarks>
internal sealed class MasterDataReferences(PlacedMap root, ImmutableArray<Fact> facts, Func<DefinitionKind, string, bool> isKnown)
{
    private readonly HashSet<string> _sites = NamesOf(root, "sites", "site");
    private readonly HashSet<string> _stations = NamesOf(root, "stations", "station");
    private readonly HashSet<string> _items = NamesOf(root, "items", "item");
    private readonly HashSet<string> _people = NamesOf(root, "people", "person");
    private readonly HashSet<string> _revisions = [.. EntriesOf(root, "routings").Select(e => $"{TextOf(e, "item")}/{TextOf(e, "revision")}")];
    private readonly Dictionary<ItemNumber, ItemDefined> _read = facts.OfType<ItemDefined>().GroupBy(i => i.Item).ToDictionary(g => g.Key, g => g.First());

    /// <summary>Each with its place in the entry.</summary>
    public IEnumerable<(string Pointer, string Detail)> Missing(Fact fact) => fact switch
    {
        SiteDefined s => TimeZoneInfo.TryFindSystemTimeZoneById(s.TimeZone, out _) ? [] : [("/timeZone", $"'{s.TimeZone}' is not an IANA time zone such as Europe/Lisbon.")],
        StationDefined s => Site("/site", s.Site),
        LotReceived l => [.. Item("/item", l.Lot.Item), .. Stations("/stations", l.Stations)],
        ContainerOpened c => Stations("/stations", c.Stations),
        RoutingDrafted r => Routing(r.Revision),
        ReplacementDeclared r => Replacement(r),
        _ => [],
    };

    private IEnumerable<(string Pointer, string Detail)> Replacement(ReplacementDeclared declared) =>
    [
        .. Item("/item", declared.Item),
        .. Item("/replaced", declared.Replaced),
        .. Item("/with", declared.With),
        .. declared.Revisions.SelectMany((revision, i) => _revisions.Contains($"{declared.Item}/{revision}") || isKnown(DefinitionKind.Revision, $"{declared.Item}/{revision}")
            ? Enumerable.Empty<(string, string)>()
            : [(FormattableString.Invariant($"/revisions/{i}"), Unknown($"revision of item {declared.Item}", revision.Value, _revisions.Where(r => r.StartsWith($"{declared.Item}/", StringComparison.Ordinal)).Select(r => r[(r.IndexOf('/', StringComparison.Ordinal) + 1)..])))]),
        .. _people.Contains(declared.AuthorisedBy.Value) || isKnown(DefinitionKind.Person, declared.AuthorisedBy.Value)
            ? Enumerable.Empty<(string, string)>()
            : [("/authorisedBy", Unknown("person", declared.AuthorisedBy.Value, _people))],
    ];

    private IEnumerable<(string Pointer, string Detail)> Routing(RoutingRevision revision)
    {
        var missing = Item("/item", revision.Item).Concat(Variants("/effectivity", revision.Item, revision.Effectivity));
        for (var s = 0; s < revision.Steps.Length; s++)
        {
            missing = missing.Concat(Step(FormattableString.Invariant($"/steps/{s}"), revision.Item, revision.Steps[s]));
        }

        for (var i = 0; i < revision.Intervals.Length; i++)
        {
            missing = missing.Concat(Variants(FormattableString.Invariant($"/intervals/{i}/appliesTo"), revision.Item, revision.Intervals[i].AppliesTo));
        }

        return missing;
    }

    private IEnumerable<(string Pointer, string Detail)> Step(string at, ItemNumber product, Step step)
    {
        var missing = Stations($"{at}/stations", step.Stations).Concat(Variants($"{at}/appliesTo", product, step.AppliesTo));
        for (var m = 0; m < step.Materials.Length; m++)
        {
            var part = FormattableString.Invariant($"{at}/materials/{m}");
            var material = step.Materials[m];
            missing = missing.Concat(Items(part, material.Item, material.Alternatives)).Concat(Variants($"{part}/appliesTo", product, material.AppliesTo));
        }

        for (var c = 0; c < step.Components.Length; c++)
        {
            var part = FormattableString.Invariant($"{at}/components/{c}");
            var component = step.Components[c];
            missing = missing.Concat(Items(part, component.Item, component.Alternatives)).Concat(Variants($"{part}/appliesTo", product, component.AppliesTo));
        }

        return missing;
    }

    private IEnumerable<(string Pointer, string Detail)> Items(string at, ItemNumber item, ImmutableArray<ItemNumber> alternatives) =>
        Item($"{at}/item", item).Concat(alternatives.SelectMany((a, i) => Item(FormattableString.Invariant($"{at}/alternatives/{i}"), a)));

    private IEnumerable<(string Pointer, string Detail)> Item(string at, ItemNumber item) =>
        _items.Contains(item.Value) || isKnown(DefinitionKind.Item, item.Value) ? [] : [(at, Unknown("item", item.Value, _items))];

    private IEnumerable<(string Pointer, string Detail)> Site(string at, SiteCode site) =>
        _sites.Contains(site.Value) || isKnown(DefinitionKind.Site, site.Value) ? [] : [(at, Unknown("site", site.Value, _sites))];

    private IEnumerable<(string Pointer, string Detail)> Stations(string at, ImmutableArray<StationCode> stations) =>
        stations.SelectMany((station, i) => _stations.Contains(station.Value) || isKnown(DefinitionKind.Station, station.Value)
            ? Enumerable.Empty<(string, string)>()
            : [(FormattableString.Invariant($"{at}/{i}"), Unknown("station", station.Value, _stations))]);

    // An item that the file does not define may have variants that only the service knows.
    private IEnumerable<(string Pointer, string Detail)> Variants(string at, ItemNumber item, Effectivity effectivity) =>
        !_read.TryGetValue(item, out var defined)
            ? []
            : effectivity.Variants.SelectMany((variant, i) => defined.Variants.Contains(variant)
                ? Enumerable.Empty<(string, string)>()
                : [(FormattableString.Invariant($"{at}/variants/{i}"), Unknown($"variant of item {item}", variant.Value, defined.Variants.Select(v => v.Value)))]);

    private static HashSet<string> NamesOf(PlacedMap root, string section, string member) => [.. EntriesOf(root, section).Select(e => TextOf(e, member)).OfType<string>()];

    private static IEnumerable<PlacedMap> EntriesOf(PlacedMap root, string section) => root.Find(section)?.Value is PlacedList list ? list.Entries.OfType<PlacedMap>() : [];

    private static string? TextOf(PlacedMap entry, string member) => (entry.Find(member)?.Value as PlacedScalar)?.Text;

    private static string Unknown(string what, string name, IEnumerable<string> known) =>
        $"There is no {what} {name}, neither in this file nor recorded before.{Http.Reading.Suggestions.Hint(name, known)}";
}
