using Traceability.Domain.Facts;
using Traceability.Domain.Primitives;

namespace Traceability.Domain.Sites;

/// <summary>A site was described, first or anew.</summary>
/// <param name="Site">The site.</param>
/// <param name="Description">What it is, in words.</param>
/// <param name="TimeZone">Its IANA time zone: days in answers are the site's calendar days.</param>
public sealed record SiteDefined(SiteCode Site, string Description, string TimeZone) : Fact;

/// <summary>A station was described, first or anew. (The station described, not the one that reports: <see cref="Fact.Station"/>.)</summary>
/// <param name="Subject">The station.</param>
/// <param name="Site">The site that it belongs to.</param>
/// <param name="Description">What it is, in words.</param>
public sealed record StationDefined(StationCode Subject, SiteCode Site, string Description) : Fact;
