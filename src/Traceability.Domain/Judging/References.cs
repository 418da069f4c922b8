using Traceability.Domain.Batches;
using Traceability.Domain.Cure;
using Traceability.Domain.Facts;
using Traceability.Domain.Items;
using Traceability.Domain.Lots;
using Traceability.Domain.People;
using Traceability.Domain.Primitives;
using Traceability.Domain.ProductUnits;
using Traceability.Domain.Routings;
using Traceability.Domain.Sites;
using Traceability.Domain.Tools;

namespace Traceability.Domain.Judging;

/// <summary>References held by stream name: folded once, then shared.</summary>
/// <remarks>Immutable: a change gives another instance. A name that is absent is not known.</remarks>
public sealed class References : IReferences
{
    private readonly ImmutableDictionary<string, object> _states;
    private readonly ImmutableDictionary<UnitKey, ImmutableArray<Installation>> _installations;
    private readonly ImmutableHashSet<ContentHash> _attachments;

    // Few items ask for it, and every recorded use of material does.
    private readonly ImmutableHashSet<ItemNumber> _inspected;

    // The same of a life by temperature.
    private readonly ImmutableHashSet<ItemNumber> _living;

    // Which batches were split off a batch, and which units were taken out of one.
    private readonly ImmutableDictionary<BatchKey, ImmutableHashSet<BatchKey>> _parts;
    private readonly ImmutableDictionary<BatchKey, ImmutableArray<UnitTaken>> _taken;

    private References(
        ImmutableDictionary<string, object> states,
        ImmutableDictionary<UnitKey, ImmutableArray<Installation>> installations,
        ImmutableHashSet<ItemNumber> inspected,
        ImmutableHashSet<ItemNumber> living,
        ImmutableHashSet<string> unreadable,
        ImmutableHashSet<ContentHash> attachments,
        ImmutableDictionary<BatchKey, ImmutableHashSet<BatchKey>> parts,
        ImmutableDictionary<BatchKey, ImmutableArray<UnitTaken>> taken)
    {
        _states = states;
        _installations = installations;
        _inspected = inspected;
        _living = living;
        Unreadable = unreadable;
        _attachments = attachments;
        _parts = parts;
        _taken = taken;
    }

    /// <summary>Nothing is known.</summary>
    public static References None { get; } = new(
        ImmutableDictionary.Create<string, object>(StringComparer.Ordinal), ImmutableDictionary<UnitKey, ImmutableArray<Installation>>.Empty, [], [], ImmutableHashSet.Create<string>(StringComparer.Ordinal), [], ImmutableDictionary<BatchKey, ImmutableHashSet<BatchKey>>.Empty, ImmutableDictionary<BatchKey, ImmutableArray<UnitTaken>>.Empty);

    /// <inheritdoc />
    public ImmutableHashSet<string> Unreadable { get; }

    /// <summary>Folds the facts of one stream; null for a stream that holds nothing to refer to.</summary>
    /// <remarks>Where a fact can't be read, an <see cref="UncertainState"/> around what the others tell.</remarks>
    public static object? Fold(string stream, ImmutableArray<RecordedFact> facts)
    {
        var state = FoldReadable(stream, facts);
        return UncertainState.IsAmong(facts) ? new UncertainState(state) : state;
    }

    /// <summary>The same, without a word on facts that can't be read.</summary>
    public static object? FoldReadable(string stream, ImmutableArray<RecordedFact> facts)
    {
        ArgumentNullException.ThrowIfNull(stream);
        var slash = stream.IndexOf('/', StringComparison.Ordinal);
        var name = stream[(slash + 1)..];
        return stream[..(slash + 1)] switch
        {
            StreamNames.UnitPrefix => ProductUnit.Of(UnitKey.Parse(name), facts),
            "lot/" => Lot.Of(LotKey.Parse(name), facts),
            StreamNames.BatchPrefix => Batch.Of(BatchKey.Parse(name), facts),
            "tool/" => Tool.Of(ToolNumber.Parse(name), facts),
            "person/" => Person.Of(PersonCode.Parse(name), facts),
            "routing/" => Routing.Of(ItemNumber.Parse(name), facts),
            "station/" => Last<StationDefined>(facts),
            "site/" => Last<SiteDefined>(facts),
            "item/" => Last<ItemDefined>(facts),
            StreamNames.TemperaturePrefix => TemperatureDay.Of(facts),
            "defect/" => Last<DefectCodeDefined>(facts),
            _ => null,
        };
    }

    /// <summary>The same with one stream's folded state set; null takes it out.</summary>
    public References With(string stream, object? state)
    {
        var (known, isUncertain) = state switch
        {
            UncertainState uncertain => (uncertain.State, true),
            ProductUnit unit => (unit, UncertainState.IsAmong(unit.Facts)),
            _ => (state, false),
        };
        var before = _states.GetValueOrDefault(stream);
        return new(
            known is null ? _states.Remove(stream) : _states.SetItem(stream, known),
            _installations,
            known is ItemDefined { NeedsInspection: true } asking ? _inspected.Add(asking.Item)
                : before is ItemDefined { NeedsInspection: true } asked ? _inspected.Remove(asked.Item)
                : _inspected,
            known is ItemDefined { HasLifeByTemperature: true } living ? _living.Add(living.Item)
                : before is ItemDefined { HasLifeByTemperature: true } lived ? _living.Remove(lived.Item)
                : _living,
            isUncertain ? Unreadable.Add(stream) : Unreadable.Remove(stream),
            _attachments,
            PartsWith((before as Batch)?.Split, (known as Batch)?.Split),
            _taken);
    }

    /// <summary>The same with several.</summary>
    public References With(IEnumerable<KeyValuePair<string, object>> states)
    {
        ArgumentNullException.ThrowIfNull(states);
        return states.Aggregate(this, (references, state) => references.With(state.Key, state.Value));
    }

    /// <summary>The same with where one component was and is installed.</summary>
    public References WithInstallations(UnitKey component, ImmutableArray<Installation> installations) =>
        new(_states, _installations.SetItem(component, installations), _inspected, _living, Unreadable, _attachments, _parts, _taken);

    /// <summary>The same with the units that were taken out of a batch.</summary>
    public References WithTaken(BatchKey batch, ImmutableArray<UnitTaken> units) =>
        new(_states, _installations, _inspected, _living, Unreadable, _attachments, _parts, _taken.SetItem(batch, units));

    /// <summary>The same with files that are stored.</summary>
    public References WithAttachments(IEnumerable<ContentHash> attachments) => new(_states, _installations, _inspected, _living, Unreadable, _attachments.Union(attachments), _parts, _taken);

    /// <inheritdoc />
    public ItemDefined? FindItem(ItemNumber item) => Find<ItemDefined>(StreamNames.OfItem(item));

    /// <inheritdoc />
    public Routing? FindRouting(ItemNumber item) => Find<Routing>(StreamNames.OfRouting(item));

    /// <inheritdoc />
    public bool NeedsInspection(ItemNumber item) => !_inspected.IsEmpty && _inspected.Contains(item);

    /// <inheritdoc />
    public bool HasLivesByTemperature => !_living.IsEmpty;

    /// <inheritdoc />
    public bool HasLifeByTemperature(ItemNumber item) => !_living.IsEmpty && _living.Contains(item);

    /// <inheritdoc />
    public Lot? FindLot(LotKey lot) => Find<Lot>(StreamNames.Of(lot)) is { Origin: not null } found ? found : null;

    /// <inheritdoc />
    public Batch? FindBatch(BatchKey batch) => Find<Batch>(StreamNames.Of(batch));

    /// <inheritdoc />
    public ImmutableArray<BatchKey> SplitFrom(BatchKey batch) =>
        _parts.TryGetValue(batch, out var parts) ? [.. parts.OrderBy(p => p.ToString(), StringComparer.Ordinal)] : [];

    /// <inheritdoc />
    public ImmutableArray<UnitTaken> TakenFrom(BatchKey batch) => _taken.TryGetValue(batch, out var found) ? found : [];

    /// <inheritdoc />
    public Tool? FindTool(ToolNumber tool) => Find<Tool>(StreamNames.Of(tool)) is { Definition: not null } found ? found : null;

    /// <inheritdoc />
    public Person? FindPerson(PersonCode person) =>
        Find<Person>(StreamNames.Of(person)) is { Definition: not null } found ? found : null;

    /// <inheritdoc />
    public StationDefined? FindStation(StationCode station) => Find<StationDefined>(StreamNames.Of(station));

    /// <inheritdoc />
    public SiteDefined? FindSite(SiteCode site) => Find<SiteDefined>(StreamNames.Of(site));

    /// <inheritdoc />
    public TemperatureDay? FindTemperatures(StationCode place, DateOnly day) => Find<TemperatureDay>(StreamNames.OfTemperature(place, day));

    /// <inheritdoc />
    public bool IsDefectKnown(Code defect) => Find<DefectCodeDefined>(StreamNames.OfDefect(defect)) is not null;

    /// <inheritdoc />
    public bool IsAttachmentKnown(ContentHash attachment) => _attachments.Contains(attachment);

    /// <inheritdoc />
    public ProductUnit? FindUnit(UnitKey unit) => Find<ProductUnit>(StreamNames.Of(unit)) is { Opened: not null } found ? found : null;

    /// <inheritdoc />
    public bool IsRecorded(UnitKey unit) => Find<ProductUnit>(StreamNames.Of(unit)) is { Facts.IsEmpty: false };

    /// <inheritdoc />
    public ImmutableArray<Installation> InstallationsOf(UnitKey component) =>
        _installations.TryGetValue(component, out var found) ? found : [];

    private static T? Last<T>(ImmutableArray<RecordedFact> facts)
        where T : Fact =>
        EffectiveFacts.Of(facts).LastOrDefault(f => f is { IsVoided: false, Fact: T })?.Fact as T;

    private ImmutableDictionary<BatchKey, ImmutableHashSet<BatchKey>> PartsWith(BatchSplit? before, BatchSplit? after)
    {
        var parts = before is null || before == after ? _parts : _parts.SetItem(before.From, _parts.GetValueOrDefault(before.From, []).Remove(before.Batch));
        return after is null || before == after ? parts : parts.SetItem(after.From, parts.GetValueOrDefault(after.From, []).Add(after.Batch));
    }

    private T? Find<T>(string stream)
        where T : class =>
        _states.GetValueOrDefault(stream) as T;
}

/// <summary>What is known of a stream of which some stored fact can't be read.</summary>
/// <param name="State">What the facts tell that can be read; null if that is nothing.</param>
public sealed record UncertainState(object? State)
{
    /// <summary>Whether one of the facts can't be read. A correction tells what it was; a void doesn't, so it still counts then.</summary>
    public static bool IsAmong(ImmutableArray<RecordedFact> facts)
    {
        foreach (var fact in facts)
        {
            if (fact.Fact is UnreadableFact)
            {
                return EffectiveFacts.Of(facts).Any(f => f.Fact is UnreadableFact);
            }
        }

        return false;
    }
}
