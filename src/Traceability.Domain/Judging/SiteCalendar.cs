using Traceability.Domain.Primitives;

namespace Traceability.Domain.Judging;

/// <summary>Calendar days at the site of a station; UTC where station, site or time zone aren't known.</summary>
internal sealed class SiteCalendar(IReferences references)
{
    private StationCode? _station;
    private TimeZoneInfo _zone = TimeZoneInfo.Utc;

    public DateOnly DayOf(DateTimeOffset at, StationCode? station)
    {
        if (station != _station)
        {
            _station = station;
            _zone = station is { } code ? ZoneOf(code) : TimeZoneInfo.Utc;
        }

        var utc = at.UtcDateTime;
        return DateOnly.FromDateTime(ReferenceEquals(_zone, TimeZoneInfo.Utc) ? utc : TimeZoneInfo.ConvertTimeFromUtc(utc, _zone));
    }

    private TimeZoneInfo ZoneOf(StationCode station) =>
        references.FindStation(station) is { } defined
        && references.FindSite(defined.Site) is { TimeZone.Length: > 0 } site
        && TimeZoneInfo.TryFindSystemTimeZoneById(site.TimeZone, out var zone)
            ? zone
            : TimeZoneInfo.Utc;
}
