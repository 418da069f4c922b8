using System.Collections.Immutable;
using Traceability.Domain.Batches;
using Traceability.Domain.Cure;
using Traceability.Domain.Facts;
using Traceability.Domain.Items;
using Traceability.Domain.Judging;
using Traceability.Domain.Lots;
using Traceability.Domain.People;
using Traceability.Domain.Primitives;
using Traceability.Domain.ProductUnits;
using Traceability.Domain.Routings;
using Traceability.Domain.Sites;
using Traceability.Domain.Tools;

namespace Traceability.Acceptance.Corrections;

/// <summary>References that note what a judgement looks at, by the name of the stream; where a component is installed, as "in/" and its name.</summary>
internal sealed class NotedReferences(IReferences references, ISet<string> looked) : IReferences
{
    /// <inheritdoc />
    public ImmutableHashSet<string> Unreadable => references.Unreadable;

    /// <summary>How it is noted that it was looked at where a unit is installed.</summary>
    public static string Inside(UnitKey component) => $"in/{component}";

    /// <summary>The stream of the component of which <see cref="Inside"/> is noted; any other name as it is.</summary>
    public static string Of(string name) => name.StartsWith("in/", StringComparison.Ordinal) ? StreamNames.UnitPrefix + name["in/".Length..] : name;

    /// <inheritdoc />
    public ItemDefined? FindItem(ItemNumber item) => Noted(StreamNames.OfItem(item), references.FindItem(item));

    /// <inheritdoc />
    public Routing? FindRouting(ItemNumber item) => Noted(StreamNames.OfRouting(item), references.FindRouting(item));

    /// <inheritdoc />
    public bool NeedsInspection(ItemNumber item) => Noted(StreamNames.OfItem(item), references.NeedsInspection(item));

    /// <inheritdoc />
    public Lot? FindLot(LotKey lot) => Noted(StreamNames.Of(lot), references.FindLot(lot));

    /// <inheritdoc />
    public bool HasLifeByTemperature(ItemNumber item) => Noted(StreamNames.OfItem(item), references.HasLifeByTemperature(item));

    /// <inheritdoc />
    public bool HasLivesByTemperature => references.HasLivesByTemperature;

    /// <inheritdoc />
    public Batch? FindBatch(BatchKey batch) => Noted(StreamNames.Of(batch), references.FindBatch(batch));

    /// <inheritdoc />
    public ImmutableArray<BatchKey> SplitFrom(BatchKey batch) => Noted(StreamNames.Of(batch), references.SplitFrom(batch));

    /// <inheritdoc />
    public ImmutableArray<UnitTaken> TakenFrom(BatchKey batch) => Noted(StreamNames.Of(batch), references.TakenFrom(batch));

    /// <inheritdoc />
    public Tool? FindTool(ToolNumber tool) => Noted(StreamNames.Of(tool), references.FindTool(tool));

    /// <inheritdoc />
    public Person? FindPerson(PersonCode person) => Noted(StreamNames.Of(person), references.FindPerson(person));

    /// <inheritdoc />
    public StationDefined? FindStation(StationCode station) => Noted(StreamNames.Of(station), references.FindStation(station));

    /// <inheritdoc />
    public SiteDefined? FindSite(SiteCode site) => Noted(StreamNames.Of(site), references.FindSite(site));

    /// <inheritdoc />
    public TemperatureDay? FindTemperatures(StationCode place, DateOnly day) => Noted(StreamNames.OfTemperature(place, day), references.FindTemperatures(place, day));

    /// <inheritdoc />
    public bool IsDefectKnown(Code defect) => Noted(StreamNames.OfDefect(defect), references.IsDefectKnown(defect));

    /// <inheritdoc />
    public bool IsAttachmentKnown(ContentHash attachment) => references.IsAttachmentKnown(attachment);

    /// <inheritdoc />
    public ProductUnit? FindUnit(UnitKey unit) => Noted(StreamNames.Of(unit), references.FindUnit(unit));

    public bool IsRecorded(UnitKey unit) => Noted(StreamNames.Of(unit), references.IsRecorded(unit));

    /// <inheritdoc />
    public ImmutableArray<Installation> InstallationsOf(UnitKey component) => Noted(Inside(component), references.InstallationsOf(component));

    private T Noted<T>(string name, T found)
    {
        looked.Add(name);
        return found;
    }
}
