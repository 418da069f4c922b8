using System.Collections.Immutable;
using Traceability.Domain.Batches;
using Traceability.Domain.Facts;
using Traceability.Domain.Items;
using Traceability.Domain.Judging;
using Traceability.Domain.Lots;
using Traceability.Domain.People;
using Traceability.Domain.Primitives;
using Traceability.Domain.ProductUnits;
using Traceability.Domain.Routings;
using Traceability.Domain.Tools;

namespace Traceability.Testing.Building;

/// <summary>The master data and the facts of one unit: given this, what is judged?</summary>
public sealed class UnitStory
{
    private readonly Dictionary<string, ImmutableArray<RecordedFact>> _streams = new(StringComparer.Ordinal);
    private readonly Dictionary<UnitKey, ImmutableArray<Installation>> _installations = [];
    private readonly List<RecordedFact> _facts = [];
    private int _ids;

    public UnitStory(UnitKey unit) => Unit = unit;

    public UnitKey Unit { get; }

    public IReadOnlyList<RecordedFact> Facts => _facts;

    /// <summary>The facts of everything beside the unit, by stream.</summary>
    public IReadOnlyDictionary<string, ImmutableArray<RecordedFact>> Streams => _streams;

    /// <summary>The id of the fact told last about the unit.</summary>
    public Guid LastId => _facts[^1].Id;

    public ProductUnit ProductUnit => ProductUnit.Of(Unit, _facts);

    public UnitJudgement Judgement => Judge.Unit(ProductUnit, References);

    public References References
    {
        get
        {
            var references = References.None.With(_streams.Select(s =>
                new KeyValuePair<string, object>(s.Key, References.Fold(s.Key, s.Value)!)));
            foreach (var (component, where) in _installations)
            {
                references = references.WithInstallations(component, where);
            }

            var units = _streams.Where(s => s.Key.StartsWith(StreamNames.UnitPrefix, StringComparison.Ordinal)).Select(s => ProductUnit.Of(UnitKey.Parse(s.Key[StreamNames.UnitPrefix.Length..]), s.Value));
            foreach (var batch in units.Append(ProductUnit).Select(UnitTaken.Of).OfType<UnitTaken>().ToLookup(t => t.Batch))
            {
                references = references.WithTaken(batch.Key, [.. batch]);
            }

            return references;
        }
    }

    public UnitStory Routing(params RoutingBuilder[] revisions)
    {
        foreach (var builder in revisions)
        {
            var revision = builder.Build();
            Know(new RoutingDrafted(revision) { OccurredAt = Some.At(-10_000) });
            Know(new RoutingReleased(revision.Item, revision.Revision, Some.Quality) { OccurredAt = Some.At(-9_999) });
        }

        return this;
    }

    /// <summary>Tells a fact of another stream: master data, a lot, a tool, a person, another unit.</summary>
    public UnitStory Know(Fact fact)
    {
        var stream = StreamNames.Of(fact) ?? throw new ArgumentException("A correction needs its stream.", nameof(fact));
        _streams[stream] = _streams.GetValueOrDefault(stream, []).Add(new(NextId(), fact, fact.OccurredAt));
        return this;
    }

    /// <summary>Tells a fact of a stream that the fact itself does not name: a correction, or one that can't be read.</summary>
    public UnitStory KnowIn(string stream, Fact fact)
    {
        _streams[stream] = _streams.GetValueOrDefault(stream, []).Add(new(NextId(), fact, fact.OccurredAt));
        return this;
    }

    public UnitStory Item(string item, ItemKind kind = ItemKind.Consumable, TimeSpan? life = null) =>
        Know(new ItemDefined(ItemNumber.Parse(item), kind, item, [], life) { OccurredAt = Some.At(-9_000) });

    /// <summary>A consumable with its times to handling and to full cure, in minutes, by temperature in degrees Celsius.</summary>
    public UnitStory Curing(string item, params (decimal Celsius, double? Handling, double? Full)[] rows) => Know(
        new ItemDefined(ItemNumber.Parse(item), ItemKind.Consumable, item, [], null) { OccurredAt = Some.At(-9_000), Cure = Some.CureTable(rows) });

    /// <summary>Temperatures were read at a place, each that many minutes after noon, in degrees Celsius: one fact for each.</summary>
    public UnitStory Read(string place, params (double At, decimal Celsius)[] readings)
    {
        foreach (var (at, celsius) in readings)
        {
            Know(Some.Temperature(place, at, celsius));
        }

        return this;
    }

    public UnitStory Lot(string item, string lot, DateTimeOffset? expires = null, bool isReleased = true, double receivedAt = -8_000) =>
        Know(new LotReceived(Some.Lot(item, lot), null, null, expires, isReleased, []) { OccurredAt = Some.At(receivedAt) });

    public UnitStory Opened(string item, string lot, string container, double at) =>
        Know(new ContainerOpened(Some.Lot(item, lot), ContainerNumber.Parse(container), []) { OccurredAt = Some.At(at), Clock = Some.RightClock });

    public UnitStory Tool(string tool, string toolClass, bool needsCalibration = false) =>
        Know(new ToolDefined(ToolNumber.Parse(tool), Some.Code(toolClass), tool, needsCalibration) { OccurredAt = Some.At(-9_000) });

    public UnitStory Calibrated(string tool, double at, bool foundGood = true, bool leftGood = true, double? validUntil = null) =>
        Know(new ToolCalibrated(ToolNumber.Parse(tool), foundGood, leftGood, validUntil is { } until ? Some.At(until) : null, null) { OccurredAt = Some.At(at) });

    public UnitStory Verified(string tool, string setting, EnteredQuantity torque, double at = -5_000, double? validUntil = null) =>
        Know(new ToolSettingVerified(ToolNumber.Parse(tool), Some.Code(setting), torque, validUntil is { } until ? Some.At(until) : null) { OccurredAt = Some.At(at) });

    /// <summary>A check of a tool against limits of 1.1 and 1.3 N.m.</summary>
    public UnitStory Checked(string tool, string? setting, decimal reading, double at, decimal? uncertainty = null) => Know(
        new ToolChecked(
            ToolNumber.Parse(tool),
            setting is null ? null : Some.Code(setting),
            [new(reading, "N.m")],
            new(1.1m, "N.m"),
            new(1.3m, "N.m"),
            uncertainty is { } u ? new EnteredQuantity(u, "N.m") : null)
        {
            OccurredAt = Some.At(at),
        });

    public UnitStory Withdrawn(string tool, double at) => Know(new ToolWithdrawn(ToolNumber.Parse(tool), "dropped") { OccurredAt = Some.At(at) });

    public UnitStory Reinstated(string tool, double at) => Know(new ToolReinstated(ToolNumber.Parse(tool), "repaired") { OccurredAt = Some.At(at) });

    public UnitStory Qualified(string person, string qualification, double at = -5_000, double? validUntil = null)
    {
        Know(new PersonDefined(PersonCode.Parse(person), person) { OccurredAt = Some.At(-9_000) });
        return Know(new QualificationGranted(PersonCode.Parse(person), Some.Code(qualification), validUntil is { } until ? Some.At(until) : null) { OccurredAt = Some.At(at) });
    }

    /// <summary>Another unit exists, and was released if a time is given.</summary>
    public UnitStory Component(UnitKey unit, double? releasedAt = null)
    {
        Know(new UnitOpened(unit, null, [], null) { OccurredAt = Some.At(-7_000) });
        return releasedAt is { } at ? Know(new UnitReleased(unit) { OccurredAt = Some.At(at) }) : this;
    }

    /// <summary>A component is recorded inside another parent.</summary>
    public UnitStory Inside(UnitKey component, UnitKey parent, double from, double? to = null)
    {
        _installations[component] = _installations.GetValueOrDefault(component, [])
            .Add(new(parent, Some.Code("X"), component, null, Some.Id(9_999), Some.At(from), to is { } end ? Some.At(end) : null));
        return this;
    }

    /// <summary>Tells a fact about the unit, in order of arrival.</summary>
    public UnitStory Tell(Fact fact)
    {
        _facts.Add(new(NextId(), fact, fact.OccurredAt));
        return this;
    }

    public UnitStory Open(string? variant = null, double at = -1_000, string? lot = null, params string[] options) => Tell(
        new UnitOpened(Unit, variant is null ? null : VariantCode.Parse(variant), [.. options.Select(Some.Code)], lot is null ? null : LotNumber.Parse(lot))
        {
            OccurredAt = Some.At(at),
            Station = Some.Station,
            Clock = Some.RightClock,
        });

    /// <summary>A step is completed that many minutes after noon.</summary>
    public UnitStory Done(string step, double at, Action<StepRecord>? with = null)
    {
        var record = new StepRecord(Unit, step, Some.At(at));
        with?.Invoke(record);
        return Tell(record.Fact);
    }

    public UnitStory Started(string step, double at) =>
        Tell(new StepStarted(Unit, StepCode.Parse(step)) { OccurredAt = Some.At(at), Station = Some.Station, Clock = Some.RightClock });

    public UnitStory Void(Guid record, double at = 5_000) =>
        Tell(new RecordVoided(record, "entered on the wrong unit", Some.Quality) { OccurredAt = Some.At(at), Clock = Some.RightClock });

    public UnitStory Correct(Guid record, Fact replacement, double at = 4_000) =>
        Tell(new RecordCorrected(record, replacement, "misread", Some.Quality) { OccurredAt = Some.At(at), Clock = Some.RightClock });

    public UnitStory Released(double at) => Tell(new UnitReleased(Unit) { OccurredAt = Some.At(at), Station = Some.Station, Clock = Some.RightClock });

    private Guid NextId() => Some.Id(++_ids);
}
