using System.Text.Json;
using Traceability.Client.Http;
using Traceability.Contracts;
using Traceability.Contracts.Facts;
using Traceability.Contracts.Findings;
using Traceability.Contracts.Intervals;
using Traceability.Contracts.Scope;
using Traceability.Contracts.Units;
using Traceability.Contracts.Yield;

namespace Traceability.Client;

/// <content>What can be asked about units, lots, findings, intervals and yields.</content>
public sealed partial class TraceabilityClient
{
    /// <summary>May this unit start this step here, now, with these materials and tools?</summary>
    /// <param name="unit">The unit.</param>
    /// <param name="step">The step's code.</param>
    /// <param name="question">Who asks where, and what is at hand.</param>
    /// <param name="cancellation">Ends the waiting.</param>
    public async Task<ReadinessAnswer> AskReadinessAsync(UnitRef unit, string step, ReadinessQuestion question, CancellationToken cancellation = default)
    {
        ArgumentNullException.ThrowIfNull(unit);
        var body = JsonSerializer.SerializeToUtf8Bytes(question, WireJson.Options);
        var path = Address.Of("units", unit.Item, unit.Serial, "steps", step, "readiness");

        // It records nothing, so asking twice does no harm.
        using var response = await SendAsync(HttpMethod.Post, path, Json(body), RequestClock.Own, mayRepeat: true, cancellation).ConfigureAwait(false);
        await RequireSuccessAsync(response, cancellation).ConfigureAwait(false);
        return await ReadAsync<ReadinessAnswer>(response, cancellation).ConfigureAwait(false);
    }

    /// <summary>Gives a fact as it was recorded.</summary>
    /// <param name="factId">The sender's id.</param>
    /// <param name="cancellation">Ends the waiting.</param>
    public Task<StoredFact> GetFactAsync(Guid factId, CancellationToken cancellation = default) =>
        AskAsync<StoredFact>(Address.Of("facts", factId.ToString()), cancellation);

    /// <summary>Gives one unit as it stands now, judged at the moment of asking.</summary>
    public Task<UnitView> GetUnitAsync(UnitRef unit, CancellationToken cancellation = default)
    {
        ArgumentNullException.ThrowIfNull(unit);
        return AskAsync<UnitView>(Address.Of("units", unit.Item, unit.Serial), cancellation);
    }

    /// <summary>Gives a page of units, by item and serial.</summary>
    /// <param name="item">Only of this item.</param>
    /// <param name="place">Only at this place: in-process, on-hold, in-stock, shipped, returned or scrapped.</param>
    /// <param name="limit">The most of the page.</param>
    /// <param name="after">What the page before said as "after".</param>
    /// <param name="cancellation">Ends the waiting.</param>
    public Task<UnitPage> GetUnitsAsync(string? item = null, string? place = null, int? limit = null, string? after = null, CancellationToken cancellation = default) =>
        AskAsync<UnitPage>(Address.With(Address.Of("units"), ("item", item), ("place", place), ("limit", limit), ("after", after)), cancellation);

    /// <summary>Gives everything recorded about one unit and the units inside it.</summary>
    public Task<BuildRecord> GetBuildRecordAsync(UnitRef unit, CancellationToken cancellation = default)
    {
        ArgumentNullException.ThrowIfNull(unit);
        return AskAsync<BuildRecord>(Address.Of("units", unit.Item, unit.Serial, "build-record"), cancellation);
    }

    /// <summary>Gives a page of the units that a lot reaches or may have reached, through genealogy at any depth.</summary>
    /// <param name="lot">The suspect lot.</param>
    /// <param name="page">Which page; null: the first.</param>
    /// <param name="cancellation">Ends the waiting.</param>
    /// <remarks>Look at the answer's completeness and remarks before you rely on it.</remarks>
    public Task<ScopeAnswer> GetScopeAsync(LotRef lot, ScopePage? page = null, CancellationToken cancellation = default)
    {
        ArgumentNullException.ThrowIfNull(lot);
        return AskAsync<ScopeAnswer>((page ?? new()).Of(Address.Of("lots", lot.Item, lot.Lot, "scope")), cancellation);
    }

    /// <summary>Gives a page of the units that one container of a lot reaches or may have reached.</summary>
    /// <param name="lot">The lot.</param>
    /// <param name="container">The container's number within the lot.</param>
    /// <param name="page">Which page; null: the first.</param>
    /// <param name="cancellation">Ends the waiting.</param>
    public Task<ScopeAnswer> GetContainerScopeAsync(LotRef lot, string container, ScopePage? page = null, CancellationToken cancellation = default)
    {
        ArgumentNullException.ThrowIfNull(lot);
        return AskAsync<ScopeAnswer>((page ?? new()).Of(Address.Of("lots", lot.Item, lot.Lot, "containers", container, "scope")), cancellation);
    }

    /// <summary>Gives the pages of a scope one after another. Each is taken at its own moment (see AsOf).</summary>
    /// <param name="lot">The suspect lot.</param>
    /// <param name="container">Only this container; null: the whole lot.</param>
    /// <param name="limit">The most of each page.</param>
    /// <param name="cancellation">Ends the waiting.</param>
    public IAsyncEnumerable<ScopeAnswer> GetWholeScopeAsync(
        LotRef lot, string? container = null, int limit = 1_000, CancellationToken cancellation = default)
    {
        ArgumentNullException.ThrowIfNull(lot);
        return PagesAsync(
            (after, token) => container is null
                ? GetScopeAsync(lot, new() { Limit = limit, After = after }, token)
                : GetContainerScopeAsync(lot, container, new() { Limit = limit, After = after }, token),
            static p => p.After,
            cancellation);
    }

    /// <summary>Gives a page of findings, newest first.</summary>
    public Task<FindingPage> GetFindingsAsync(FindingQuestion question, CancellationToken cancellation = default)
    {
        ArgumentNullException.ThrowIfNull(question);
        return AskAsync<FindingPage>(question.Of(Address.Of("findings"), isPage: true), cancellation);
    }

    /// <summary>Counts findings by kind, and defects.</summary>
    /// <param name="question">Which; its limit and after are of no use here.</param>
    /// <param name="cancellation">Ends the waiting.</param>
    public Task<FindingCounts> GetFindingCountsAsync(FindingQuestion question, CancellationToken cancellation = default)
    {
        ArgumentNullException.ThrowIfNull(question);
        return AskAsync<FindingCounts>(question.Of(Address.Of("findings", "counts"), isPage: false), cancellation);
    }

    /// <summary>Gives what is curing, soaking or waiting at the moment of asking.</summary>
    public Task<OpenIntervals> GetOpenIntervalsAsync(string? item = null, string? station = null, int? limit = null, CancellationToken cancellation = default) =>
        AskAsync<OpenIntervals>(Address.With(Address.Of("intervals", "open"), ("item", item), ("station", station), ("limit", limit)), cancellation);

    /// <summary>Gives interval rules that were broken in a period, and those that are broken by what is open now.</summary>
    public Task<IntervalViolations> GetIntervalViolationsAsync(
        DateTimeOffset? from = null, DateTimeOffset? to = null, string? item = null, int? limit = null, CancellationToken cancellation = default) =>
        AskAsync<IntervalViolations>(Address.With(Address.Of("intervals", "violations"), ("from", from), ("to", to), ("item", item), ("limit", limit)), cancellation);

    /// <summary>Gives the yields of an item's steps.</summary>
    public Task<StepYields> GetStepYieldsAsync(StepYieldQuestion question, CancellationToken cancellation = default)
    {
        ArgumentNullException.ThrowIfNull(question);
        return AskAsync<StepYields>(
            Address.With(
                Address.Of("yield", "steps"),
                ("item", question.Item),
                ("from", question.From),
                ("to", question.To),
                ("by", question.By),
                ("step", question.Step),
                ("station", question.Station),
                ("variant", question.Variant)),
            cancellation);
    }

    /// <summary>Gives the yields of whole units of an item.</summary>
    /// <param name="item">The item.</param>
    /// <param name="from">The first day, in the calendar of the site; null: 30 days up to the last.</param>
    /// <param name="to">The last day, included; null: the latest that any site is in.</param>
    /// <param name="by">What to tell apart: day, variant, revision; null: nothing.</param>
    /// <param name="cancellation">Ends the waiting.</param>
    public Task<UnitYields> GetUnitYieldsAsync(
        string item, DateOnly? from = null, DateOnly? to = null, IReadOnlyList<string>? by = null, CancellationToken cancellation = default) =>
        AskAsync<UnitYields>(Address.With(Address.Of("yield", "units"), ("item", item), ("from", from), ("to", to), ("by", by)), cancellation);

    /// <summary>Gives the rolled throughput yield of an item's routing.</summary>
    /// <param name="item">The item.</param>
    /// <param name="from">The first day; null: 30 days up to the last.</param>
    /// <param name="to">The last day, included; null: the latest that any site is in.</param>
    /// <param name="variant">Only units of this variant.</param>
    /// <param name="revision">Only by this revision.</param>
    /// <param name="cancellation">Ends the waiting.</param>
    public Task<ThroughputYield> GetThroughputYieldAsync(
        string item, DateOnly? from = null, DateOnly? to = null, string? variant = null, string? revision = null, CancellationToken cancellation = default) =>
        AskAsync<ThroughputYield>(
            Address.With(Address.Of("yield", "throughput"), ("item", item), ("from", from), ("to", to), ("variant", variant), ("revision", revision)), cancellation);
}
