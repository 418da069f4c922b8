using Traceability.Domain.Primitives;

namespace Traceability.Domain.Scope;

/// <summary>Where <see cref="ScopeWalk"/> finds the rows that judging made, many keys at a time. All answers are of one moment.</summary>
/// <remarks>One walk uses one source from one thread. Units are named as <see cref="UnitKey"/> writes them: item/serial.</remarks>
public interface IScopeSource
{
    /// <summary>So many units are best looked up with everything about them in one question. Of more it is asked first what can be spared.</summary>
    int FewUnits { get; }

    /// <summary>
    /// All records that name the lot; and gaps that it might fill, of those that overlap the time (ends included): a lot or a serial
    /// of its item is missing; or the lot is recorded and the container is missing.
    /// </summary>
    /// <param name="clearing">What is suspected of it, and what clears units of that: how many there are may be asked next.</param>
    /// <param name="from">From this time on.</param>
    /// <param name="to">Until this time.</param>
    /// <param name="cancellation">Stops it.</param>
    ValueTask<DirectRows> DirectAsync(ClearingRule clearing, DateTimeOffset from, DateTimeOffset to, CancellationToken cancellation);

    /// <summary>Missing lots for which one of the items would be accepted, of those that overlap the time (ends included).</summary>
    ValueTask<IReadOnlyList<GapRow>> LotGapsAsync(
        IReadOnlyCollection<ItemNumber> items, DateTimeOffset from, DateTimeOffset to, CancellationToken cancellation);

    /// <summary>All records that name one of the lots.</summary>
    ValueTask<IReadOnlyList<LotUsageRow>> UsagesAsync(IReadOnlyCollection<LotKey> lots, CancellationToken cancellation);

    /// <summary>
    /// Where the components were and are inside others, in any order, and where those stand; and missing serials for which one of the
    /// items would be accepted.
    /// </summary>
    /// <param name="components">The components.</param>
    /// <param name="items">The items.</param>
    /// <param name="into">Takes the rows as they are found.</param>
    /// <param name="cancellation">Stops it.</param>
    ValueTask LevelAsync(
        IReadOnlyCollection<string> components, IReadOnlyCollection<string> items, ILevelRows into, CancellationToken cancellation);

    /// <summary>Those of the items of which some unit was ever inside another one; others may be among them. And missing serials for which one of the items would be accepted.</summary>
    /// <param name="items">The items.</param>
    /// <param name="into">Takes the missing serials.</param>
    /// <param name="cancellation">Stops it.</param>
    ValueTask<IReadOnlyCollection<string>> ItemsAsync(IReadOnlyCollection<string> items, ILevelRows into, CancellationToken cancellation);

    /// <summary>The records that name the tool, of those that overlap the time (ends included; null: without end).</summary>
    ValueTask<IReadOnlyList<ToolUseRow>> ToolUsesAsync(ToolNumber tool, DateTimeOffset? from, DateTimeOffset? to, CancellationToken cancellation);

    /// <summary>Attempts at steps that may be of the work; others may be among them.</summary>
    ValueTask<IReadOnlyList<WorkRow>> WorkAsync(SuspectWork work, CancellationToken cancellation);

    /// <summary>Values and checks of the characteristic that may meet the condition, on the item where one is named; others may be among them.</summary>
    ValueTask<IReadOnlyList<MeasuredRow>> MeasuredAsync(SuspectMeasured measured, CancellationToken cancellation);

    /// <summary>Intervals of the rule that may be of the length, on the item where one is named; others may be among them.</summary>
    ValueTask<IReadOnlyList<IntervalRow>> IntervalsAsync(SuspectInterval interval, CancellationToken cancellation);

    /// <summary>Work of a kind that should be recorded and isn't.</summary>
    /// <param name="kind">What is missing.</param>
    /// <param name="item">On this item; null: any.</param>
    /// <param name="names">The classes of a tool, or the characteristic or rule that is missing, any of them; null: any at all.</param>
    /// <param name="cancellation">Stops it.</param>
    ValueTask<IReadOnlyList<WorkGapRow>> WorkGapsAsync(
        Judging.WorkGapKind kind, ItemNumber? item, IReadOnlyCollection<string>? names, CancellationToken cancellation);

    /// <summary>Where the units stand. A unit of which nothing is known is left out.</summary>
    ValueTask<IReadOnlyList<UnitRow>> UnitsAsync(IReadOnlyCollection<string> units, CancellationToken cancellation);

    /// <summary>What rows of evidence say. Every key given is one that this source gave.</summary>
    ValueTask<IReadOnlyDictionary<EvidenceKey, EvidenceRow>> EvidenceAsync(
        IReadOnlyCollection<EvidenceKey> keys, CancellationToken cancellation);

    /// <summary>How many units a record clears by some of the rules, leaving out the members.</summary>
    ValueTask<int> CountClearedAsync(ImmutableArray<ClearingRule> rules, IReadOnlyCollection<string> members, CancellationToken cancellation);

    /// <summary>Units that a record clears by some of the rules, ordered by name (ordinal), leaving out the members.</summary>
    /// <param name="rules">What clears.</param>
    /// <param name="members">The units to leave out.</param>
    /// <param name="after">Only units after this one; null: from the first.</param>
    /// <param name="limit">At most so many.</param>
    /// <param name="cancellation">Stops it.</param>
    ValueTask<IReadOnlyList<ClearedUnit>> ClearedAsync(
        ImmutableArray<ClearingRule> rules, IReadOnlyCollection<string> members, string? after, int limit, CancellationToken cancellation);
}

/// <summary>Rows that tell of the suspect's lot itself.</summary>
/// <param name="Usages">Records that name it.</param>
/// <param name="Gaps">Gaps that it might fill.</param>
public sealed record DirectRows(IReadOnlyList<UsageRow> Usages, IReadOnlyList<GapRow> Gaps);

/// <summary>Takes rows that lead from units to those that they are or could be inside of: tens of thousands, so that none is kept twice.</summary>
public interface ILevelRows
{
    /// <summary>Takes where a unit was or is, and where the one around it stands.</summary>
    void Add(in InstallationRow installation);

    /// <summary>Takes a missing serial.</summary>
    void Add(in GapRow serialGap);
}

/// <summary>Keeps them.</summary>
public sealed class LevelRows : ILevelRows
{
    private readonly List<InstallationRow> _installations = [];
    private readonly List<GapRow> _serialGaps = [];

    /// <summary>Where the units were and are, and where those around them stand.</summary>
    public IReadOnlyList<InstallationRow> Installations => _installations;

    /// <summary>Missing serials.</summary>
    public IReadOnlyList<GapRow> SerialGaps => _serialGaps;

    /// <inheritdoc />
    public void Add(in InstallationRow installation) => _installations.Add(installation);

    /// <inheritdoc />
    public void Add(in GapRow serialGap) => _serialGaps.Add(serialGap);
}

/// <summary>
/// What clears a unit: a record that serves a requirement of the suspect's item (or says which lot the unit itself came in),
/// where and when the suspect could have been used, and names another lot; or, where a container is suspected, another container.
/// </summary>
/// <param name="Factor">What is suspected.</param>
/// <param name="Presence">Where and when it could have been used; a use counts by when it began.</param>
public sealed record ClearingRule(SuspectFactor Factor, LotPresence Presence)
{
    /// <summary>Whether such a record clears.</summary>
    /// <param name="lot">The lot that it names.</param>
    /// <param name="container">The container that it names.</param>
    /// <param name="serves">Whether it serves a requirement, or says which lot the unit itself came in.</param>
    /// <param name="from">The earliest time of use.</param>
    /// <param name="station">The station.</param>
    public bool Clears(LotKey lot, string? container, bool serves, DateTimeOffset from, string? station) =>
        serves
        && lot.Item == Factor.Lot.Item
        && (lot != Factor.Lot
            || (Factor is SuspectContainer c && container is not null && !string.Equals(container, c.Container.Value, StringComparison.Ordinal)))
        && Presence.CouldBeUsed(from, from, station);
}
