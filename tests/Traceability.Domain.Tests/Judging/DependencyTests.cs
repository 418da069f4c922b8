using System.Collections.Immutable;
using CsCheck;
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
using Traceability.Testing.Building;
using Xunit;

namespace Traceability.Domain.Tests.Judging;

public sealed class DependencyTests
{
    // What judging looked at without saying so would neither be loaded before nor be watched for changes afterwards.
    [Fact]
    public void Judging_looks_at_nothing_but_what_the_dependencies_name() =>
        Histories.Facts.Sample(
            facts =>
            {
                var unit = ProductUnit.Of(Histories.Lamp, facts);
                var watching = new Watching(Histories.References);
                Judge.Unit(unit, watching);
                Assert.Subset(Dependencies.Of(unit).ToHashSet(StringComparer.Ordinal), watching.Seen);
            },
            iter: 1_000);

    private sealed class Watching(IReferences inner) : IReferences
    {
        public HashSet<string> Seen { get; } = new(StringComparer.Ordinal);

        public ItemDefined? FindItem(ItemNumber item) => See(StreamNames.OfItem(item), inner.FindItem(item));

        public Routing? FindRouting(ItemNumber item) => See(StreamNames.OfRouting(item), inner.FindRouting(item));

        public Lot? FindLot(LotKey lot) => See(StreamNames.Of(lot), inner.FindLot(lot));

        public bool NeedsInspection(ItemNumber item) => See(StreamNames.OfItem(item), inner.NeedsInspection(item));

        public bool HasLifeByTemperature(ItemNumber item) => See(StreamNames.OfItem(item), inner.HasLifeByTemperature(item));

        public bool HasLivesByTemperature => inner.HasLivesByTemperature;

        public Batch? FindBatch(BatchKey batch) => See(StreamNames.Of(batch), inner.FindBatch(batch));

        public ImmutableArray<BatchKey> SplitFrom(BatchKey batch) => See(StreamNames.Of(batch), inner.SplitFrom(batch));

        public ImmutableArray<UnitTaken> TakenFrom(BatchKey batch) => See(StreamNames.Of(batch), inner.TakenFrom(batch));

        public Tool? FindTool(ToolNumber tool) => See(StreamNames.Of(tool), inner.FindTool(tool));

        public Person? FindPerson(PersonCode person) => See(StreamNames.Of(person), inner.FindPerson(person));

        public StationDefined? FindStation(StationCode station) => See(StreamNames.Of(station), inner.FindStation(station));

        // Reached through its station, and always loaded.
        public SiteDefined? FindSite(SiteCode site) => inner.FindSite(site);

        public TemperatureDay? FindTemperatures(StationCode place, DateOnly day) => See(StreamNames.OfTemperature(place, day), inner.FindTemperatures(place, day));

        public bool IsDefectKnown(Code defect) => See(StreamNames.OfDefect(defect), inner.IsDefectKnown(defect));

        public ImmutableHashSet<string> Unreadable => inner.Unreadable;

        // Nothing that is judged looks at it: files are looked up when a fact that names them arrives.
        public bool IsAttachmentKnown(ContentHash attachment) => throw new InvalidOperationException("not a dependency");

        public ProductUnit? FindUnit(UnitKey unit) => See(StreamNames.Of(unit), inner.FindUnit(unit));

        public bool IsRecorded(UnitKey unit) => See(StreamNames.Of(unit), inner.IsRecorded(unit));

        public ImmutableArray<Installation> InstallationsOf(UnitKey component) => See(StreamNames.Of(component), inner.InstallationsOf(component));

        private T See<T>(string stream, T found)
        {
            Seen.Add(stream);
            return found;
        }
    }
}
