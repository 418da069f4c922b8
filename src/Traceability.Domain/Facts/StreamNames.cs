using Traceability.Domain.Batches;
using Traceability.Domain.Containments;
using Traceability.Domain.Cure;
using Traceability.Domain.Items;
using Traceability.Domain.Lots;
using Traceability.Domain.People;
using Traceability.Domain.Primitives;
using Traceability.Domain.ProductUnits;
using Traceability.Domain.Routings;
using Traceability.Domain.Sites;
using Traceability.Domain.Tools;

namespace Traceability.Domain.Facts;

/// <summary>Names of streams: one per product unit, batch, lot, tool, person, station, site, item, routing, defect code, containment.</summary>
public static class StreamNames
{
    /// <summary>What the name of every unit's stream begins with.</summary>
    public const string UnitPrefix = "unit/";

    /// <summary>What the names of lots' streams begin with.</summary>
    public const string LotPrefix = "lot/";

    /// <summary>What the names of tools' streams begin with.</summary>
    public const string ToolPrefix = "tool/";

    /// <summary>What the names of people's streams begin with.</summary>
    public const string PersonPrefix = "person/";

    /// <summary>What the names of batches' streams begin with.</summary>
    public const string BatchPrefix = "batch/";

    /// <summary>What the names of the streams of temperatures begin with.</summary>
    public const string TemperaturePrefix = "temperature/";

    /// <summary>What the names of containments' streams begin with.</summary>
    public const string ContainmentPrefix = "containment/";

    // Concatenated, since judging makes these by the dozen for every fact that arrives.
    public static string Of(UnitKey unit) => string.Concat(UnitPrefix, unit.Item.ToString(), "/", unit.Serial.ToString());

    public static string Of(LotKey lot) => string.Concat(LotPrefix, lot.Item.ToString(), "/", lot.Lot.ToString());

    public static string Of(BatchKey batch) => string.Concat(BatchPrefix, batch.Item.ToString(), "/", batch.Batch.ToString());

    public static string Of(ToolNumber tool) => string.Concat(ToolPrefix, tool.ToString());

    public static string Of(PersonCode person) => string.Concat(PersonPrefix, person.ToString());

    public static string Of(StationCode station) => string.Concat("station/", station.ToString());

    public static string Of(SiteCode site) => string.Concat("site/", site.ToString());

    public static string Of(ContainmentId containment) => string.Concat(ContainmentPrefix, containment.ToString());

    public static string OfItem(ItemNumber item) => string.Concat("item/", item.ToString());

    public static string OfRouting(ItemNumber item) => string.Concat("routing/", item.ToString());

    public static string OfDefect(Code defect) => string.Concat("defect/", defect.ToString());

    /// <summary>The stream of what was read at a place on one day in UTC.</summary>
    public static string OfTemperature(StationCode place, DateOnly day) =>
        string.Concat(TemperaturePrefix, place.ToString(), "/", day.ToString("yyyy-MM-dd", System.Globalization.CultureInfo.InvariantCulture));

    /// <summary>The stream that a fact belongs to; null for a correction or void, which goes where the record is that it names.</summary>
    public static string? Of(Fact fact) => fact switch
    {
        IUnitFact f => Of(f.Unit),
        ILotFact f => Of(f.Lot),
        IBatchFact f => Of(f.Batch),
        ToolDefined f => Of(f.Tool),
        ToolCalibrated f => Of(f.Tool),
        ToolSettingVerified f => Of(f.Tool),
        ToolChecked f => Of(f.Tool),
        ToolStudied f => Of(f.Tool),
        ToolWithdrawn f => Of(f.Tool),
        ToolReinstated f => Of(f.Tool),
        PersonDefined f => Of(f.Subject),
        QualificationGranted f => Of(f.Subject),
        QualificationWithdrawn f => Of(f.Subject),
        TrainingCompleted f => Of(f.Subject),
        StationDefined f => Of(f.Subject),
        SiteDefined f => Of(f.Site),
        ItemDefined f => OfItem(f.Item),
        DefectCodeDefined f => OfDefect(f.Defect),
        RoutingDrafted f => OfRouting(f.Revision.Item),
        RoutingReleased f => OfRouting(f.Item),
        TemperatureRecorded f => OfTemperature(f.Place, f.Day),
        RoutingApproved f => OfRouting(f.Item),
        ReplacementDeclared f => OfRouting(f.Item),
        IContainmentFact f => Of(f.Containment),
        _ => null,
    };
}
