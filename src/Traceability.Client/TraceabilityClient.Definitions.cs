using System.Text;
using Traceability.Client.Http;
using Traceability.Contracts;
using Traceability.Contracts.Definitions;
using Traceability.Contracts.Facts;

namespace Traceability.Client;

/// <content>What is defined: items, routings, lots, tools, people, places.</content>
public sealed partial class TraceabilityClient
{
    /// <summary>Gives a page of items.</summary>
    public Task<DefinitionPage<ItemView>> GetItemsAsync(int? limit = null, string? after = null, CancellationToken cancellation = default) =>
        ListAsync<ItemView>(Address.Of("items"), limit, after, cancellation);

    /// <summary>Gives an item.</summary>
    public Task<ItemView> GetItemAsync(string item, CancellationToken cancellation = default) => AskAsync<ItemView>(Address.Of("items", item), cancellation);

    /// <summary>Gives the routing of an item, with all its revisions.</summary>
    public Task<RoutingView> GetRoutingAsync(string item, CancellationToken cancellation = default) =>
        AskAsync<RoutingView>(Address.Of("routings", item), cancellation);

    /// <summary>Gives one revision of an item's routing.</summary>
    public Task<RoutingRevision> GetRoutingRevisionAsync(string item, string revision, CancellationToken cancellation = default) =>
        AskAsync<RoutingRevision>(Address.Of("routings", item, revision), cancellation);

    /// <summary>Gives a page of the lots of an item.</summary>
    public Task<DefinitionPage<LotView>> GetLotsAsync(string item, int? limit = null, string? after = null, CancellationToken cancellation = default) =>
        ListAsync<LotView>(Address.Of("lots", item), limit, after, cancellation);

    /// <summary>Gives a lot.</summary>
    public Task<LotView> GetLotAsync(LotRef lot, CancellationToken cancellation = default)
    {
        ArgumentNullException.ThrowIfNull(lot);
        return AskAsync<LotView>(Address.Of("lots", lot.Item, lot.Lot), cancellation);
    }

    /// <summary>Gives a page of tools.</summary>
    public Task<DefinitionPage<ToolView>> GetToolsAsync(int? limit = null, string? after = null, CancellationToken cancellation = default) =>
        ListAsync<ToolView>(Address.Of("tools"), limit, after, cancellation);

    /// <summary>Gives a tool with its calibrations.</summary>
    public Task<ToolView> GetToolAsync(string tool, CancellationToken cancellation = default) => AskAsync<ToolView>(Address.Of("tools", tool), cancellation);

    /// <summary>Gives a page of people.</summary>
    public Task<DefinitionPage<PersonView>> GetPeopleAsync(int? limit = null, string? after = null, CancellationToken cancellation = default) =>
        ListAsync<PersonView>(Address.Of("people"), limit, after, cancellation);

    /// <summary>Gives a person with what that person is qualified for.</summary>
    public Task<PersonView> GetPersonAsync(string person, CancellationToken cancellation = default) => AskAsync<PersonView>(Address.Of("people", person), cancellation);

    /// <summary>Gives a page of stations.</summary>
    public Task<DefinitionPage<StationView>> GetStationsAsync(int? limit = null, string? after = null, CancellationToken cancellation = default) =>
        ListAsync<StationView>(Address.Of("stations"), limit, after, cancellation);

    /// <summary>Gives a station.</summary>
    public Task<StationView> GetStationAsync(string station, CancellationToken cancellation = default) =>
        AskAsync<StationView>(Address.Of("stations", station), cancellation);

    /// <summary>Gives a page of sites.</summary>
    public Task<DefinitionPage<SiteView>> GetSitesAsync(int? limit = null, string? after = null, CancellationToken cancellation = default) =>
        ListAsync<SiteView>(Address.Of("sites"), limit, after, cancellation);

    /// <summary>Gives a page of defect codes.</summary>
    public Task<DefinitionPage<DefectView>> GetDefectsAsync(int? limit = null, string? after = null, CancellationToken cancellation = default) =>
        ListAsync<DefectView>(Address.Of("defects"), limit, after, cancellation);

    /// <summary>Sends one file of master data. The ids of its facts follow from their content, so that a repeat changes nothing.</summary>
    /// <param name="file">The file's text.</param>
    /// <param name="isYaml">YAML, else JSON.</param>
    /// <param name="dryRun">Only check it; nothing is recorded.</param>
    /// <param name="cancellation">Ends the waiting.</param>
    public async Task<MasterDataReceipt> SendMasterDataAsync(string file, bool isYaml, bool dryRun, CancellationToken cancellation = default)
    {
        ArgumentNullException.ThrowIfNull(file);
        var bytes = Encoding.UTF8.GetBytes(file);
        var path = Address.With(Address.Of("master-data"), ("dryRun", dryRun ? "true" : "false"));
        using var response = await SendAsync(
            HttpMethod.Post, path, () => Content(bytes, isYaml ? "application/yaml" : "application/json"), RequestClock.Own, mayRepeat: true, cancellation).ConfigureAwait(false);
        await RequireSuccessAsync(response, cancellation).ConfigureAwait(false);
        return await ReadAsync<MasterDataReceipt>(response, cancellation).ConfigureAwait(false);
    }

    private Task<DefinitionPage<T>> ListAsync<T>(string path, int? limit, string? after, CancellationToken cancellation) =>
        AskAsync<DefinitionPage<T>>(Address.With(path, ("limit", limit), ("after", after)), cancellation);
}
