using Npgsql;
using Traceability.Domain.Facts;
using Traceability.Domain.Items;
using Traceability.Domain.Primitives;
using Traceability.Domain.Routings;
using Traceability.Domain.Sites;

namespace Traceability.Service.Storage;

/// <summary>An item as a question about it needs it.</summary>
/// <param name="Item">Its description.</param>
/// <param name="Routing">Its routing; null for an item without one.</param>
internal sealed record CatalogueEntry(ItemDefined Item, Routing? Routing)
{
    /// <summary>Whether any revision, a draft included, has the step.</summary>
    public bool HasStep(StepCode step) => Routing is not null && Routing.Released.Concat(Routing.Drafts).Any(r => r.Find(step) is not null);
}

/// <summary>Looks up what questions name: items with their routings, stations, the calendar of the sites.</summary>
/// <remarks>The connection's transaction must be repeatable read, so that what is looked up is of one moment.</remarks>
internal sealed class ItemCatalogue(ReferenceCache references)
{
    /// <summary>The refusal for an item that nobody defined.</summary>
    public static Refusal Unknown(ItemNumber item) =>
        Refusal.At("item-unknown", RefusalKind.Unknown, "item", $"Item {item} is not known here. GET /api/items lists those that are.");

    /// <summary>The refusal for a station that nobody defined.</summary>
    public static Refusal Unknown(StationCode station) =>
        Refusal.At("station-unknown", RefusalKind.Unknown, "station", $"Station {station} is not known here. GET /api/stations lists those that are.");

    /// <summary>The item, or null.</summary>
    public async Task<CatalogueEntry?> FindAsync(NpgsqlConnection connection, ItemNumber item, CancellationToken cancellation)
    {
        var known = await LoadAsync(connection, [StreamNames.OfItem(item), StreamNames.OfRouting(item)], cancellation);
        return known.FindItem(item) is { } found ? new(found, known.FindRouting(item)) : null;
    }

    /// <summary>Whether the station is defined.</summary>
    public async Task<bool> HasAsync(NpgsqlConnection connection, StationCode station, CancellationToken cancellation) =>
        (await LoadAsync(connection, [StreamNames.Of(station)], cancellation)).FindStation(station) is not null;

    /// <summary>The latest calendar day that any site is in at a moment; UTC's where no site is defined, or its time zone is not known here.</summary>
    public async Task<DateOnly> LatestDayAsync(NpgsqlConnection connection, DateTimeOffset now, CancellationToken cancellation)
    {
        List<string> streams = [];
        await using (var command = new NpgsqlCommand("select stream from traceability.reference_stream where kind = 'site'", connection))
        await using (var reader = await command.ExecuteReaderAsync(cancellation))
        {
            while (await reader.ReadAsync(cancellation))
            {
                streams.Add(reader.GetString(0));
            }
        }

        var known = await LoadAsync(connection, streams, cancellation);
        return streams
            .Select(s => known.FindSite(SiteCode.Parse(s[(s.IndexOf('/', StringComparison.Ordinal) + 1)..])))
            .OfType<SiteDefined>()
            .Select(site => TimeZoneInfo.TryFindSystemTimeZoneById(site.TimeZone, out var zone) ? TimeZoneInfo.ConvertTime(now, zone) : now.ToUniversalTime())
            .Select(at => DateOnly.FromDateTime(at.DateTime))
            .DefaultIfEmpty(DateOnly.FromDateTime(now.UtcDateTime))
            .Max();
    }

    private async Task<Domain.Judging.IReferences> LoadAsync(NpgsqlConnection connection, IReadOnlyCollection<string> streams, CancellationToken cancellation) =>
        (await references.GetAsync(connection, await ReferenceCache.SeqAsync(connection, cancellation), streams, cancellation)).References;
}
