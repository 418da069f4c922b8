using Traceability.Domain.Batches;
using Traceability.Domain.Cure;
using Traceability.Domain.Items;
using Traceability.Domain.Lots;
using Traceability.Domain.People;
using Traceability.Domain.Primitives;
using Traceability.Domain.ProductUnits;
using Traceability.Domain.Routings;
using Traceability.Domain.Sites;
using Traceability.Domain.Tools;

namespace Traceability.Domain.Judging;

/// <summary>Everything beside a unit's own facts that its judgement may look at, as of one moment.</summary>
/// <remarks>What is looked at is exactly what <see cref="Dependencies.Of(ProductUnit)"/> and <see cref="Dependencies.Temperatures"/> name, so that it can be loaded before and watched after.</remarks>
public interface IReferences
{
    /// <summary>The item's description, or null.</summary>
    ItemDefined? FindItem(ItemNumber item);

    /// <summary>The item's routing, or null.</summary>
    Routing? FindRouting(ItemNumber item);

    /// <summary>Whether a lot of the item may be used only once an inspection has accepted it.</summary>
    bool NeedsInspection(ItemNumber item);

    /// <summary>Whether how long a mix or an opened container of the item may be used depends on temperature.</summary>
    bool HasLifeByTemperature(ItemNumber item);

    /// <summary>Whether any known item has such a life.</summary>
    bool HasLivesByTemperature { get; }

    /// <summary>The lot, or null.</summary>
    Lot? FindLot(LotKey lot);

    /// <summary>The batch, or null.</summary>
    Batch? FindBatch(BatchKey batch);

    /// <summary>The batches that name it as what they were split off.</summary>
    ImmutableArray<BatchKey> SplitFrom(BatchKey batch);

    /// <summary>The units that were taken out of the batch by record; may be none while they are surely not more than there were parts.</summary>
    ImmutableArray<UnitTaken> TakenFrom(BatchKey batch);

    /// <summary>The tool, or null.</summary>
    Tool? FindTool(ToolNumber tool);

    /// <summary>The person, or null.</summary>
    Person? FindPerson(PersonCode person);

    /// <summary>The station, or null.</summary>
    StationDefined? FindStation(StationCode station);

    /// <summary>The site, or null.</summary>
    SiteDefined? FindSite(SiteCode site);

    /// <summary>What was read at a place on one day in UTC; null if nothing was.</summary>
    TemperatureDay? FindTemperatures(StationCode place, DateOnly day);

    /// <summary>Whether the defect code is known.</summary>
    bool IsDefectKnown(Code defect);

    /// <summary>Whether a file with this content is stored.</summary>
    bool IsAttachmentKnown(ContentHash attachment);

    /// <summary>The facts of another unit (a component), or null if no record that counts opened it.</summary>
    ProductUnit? FindUnit(UnitKey unit);

    /// <summary>Whether there is any record of another unit, void ones included.</summary>
    bool IsRecorded(UnitKey unit);

    /// <summary>The streams of which a stored fact can't be read, so that what is said of them here may be wrong.</summary>
    ImmutableHashSet<string> Unreadable { get; }

    /// <summary>Where a unit was and is installed, in every parent, ordered by time.</summary>
    ImmutableArray<Installation> InstallationsOf(UnitKey component);
}
