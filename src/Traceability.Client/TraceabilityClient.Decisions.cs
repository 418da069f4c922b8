using System.Net.Http.Headers;
using System.Text.Json;
using Traceability.Client.Http;
using Traceability.Contracts;
using Traceability.Contracts.Alarms;
using Traceability.Contracts.Attachments;
using Traceability.Contracts.Facts;
using Traceability.Contracts.Nonconformances;
using Traceability.Contracts.SharedFactors;
using Traceability.Contracts.Shipments;
using Traceability.Contracts.Units;

namespace Traceability.Client;

/// <content>Releases, shipments, structures, nonconformances, files and suspects.</content>
public sealed partial class TraceabilityClient
{
    /// <summary>Tells whether a unit may be released, with everything that is in the way, and who has released it.</summary>
    public Task<ReleaseState> GetReleaseAsync(UnitRef unit, CancellationToken cancellation = default)
    {
        ArgumentNullException.ThrowIfNull(unit);
        return AskAsync<ReleaseState>(Address.Of("units", unit.Item, unit.Serial, "release"), cancellation);
    }

    /// <summary>Releases a unit under a person's signature.</summary>
    /// <param name="unit">The unit.</param>
    /// <param name="request">Who signs, with the secret, which is sent and not kept. Its id makes a repeat harmless.</param>
    /// <param name="cancellation">Ends the waiting; the release may be recorded all the same.</param>
    /// <exception cref="TraceabilityProblemException">It is refused: release-blocked, say; the problem's errors tell why.</exception>
    public Task<ReleaseReceipt> ReleaseAsync(UnitRef unit, ReleaseRequest request, CancellationToken cancellation = default)
    {
        ArgumentNullException.ThrowIfNull(unit);
        return PostAsync<ReleaseRequest, ReleaseReceipt>(Address.Of("units", unit.Item, unit.Serial, "release"), request, cancellation);
    }

    /// <summary>Lets several units leave to a consignee by one decision: all of them or none.</summary>
    /// <param name="request">Which units, to whom. Its id makes a repeat harmless.</param>
    /// <param name="cancellation">Ends the waiting; the shipment may be recorded all the same.</param>
    /// <exception cref="TraceabilityProblemException">It is refused: shipment-blocked, say; the problem's errors name each unit with why.</exception>
    public Task<ShipmentReceipt> ShipAsync(ShipmentRequest request, CancellationToken cancellation = default) =>
        PostAsync<ShipmentRequest, ShipmentReceipt>(Address.Of("shipments"), request, cancellation);

    /// <summary>Gives a page of what left to a consignee or under an order, newest first; one of the two must be given.</summary>
    /// <param name="consignee">Only to this consignee.</param>
    /// <param name="order">Only under this order reference.</param>
    /// <param name="from">Only units that left at this time or later.</param>
    /// <param name="to">Only units that left before this time.</param>
    /// <param name="limit">The most shipments of the page, 1 to 1,000; null: 100.</param>
    /// <param name="after">What the page before said as "after".</param>
    /// <param name="cancellation">Ends the waiting.</param>
    public Task<ShipmentPage> GetShipmentsAsync(
        string? consignee = null, string? order = null, DateTimeOffset? from = null, DateTimeOffset? to = null, int? limit = null, string? after = null, CancellationToken cancellation = default) =>
        AskAsync<ShipmentPage>(
            Address.With(Address.Of("shipments"), ("consignee", consignee), ("order", order), ("from", from), ("to", to), ("limit", limit), ("after", after)), cancellation);

    /// <summary>Gives what a unit is made of now, or was at a moment.</summary>
    /// <param name="unit">The unit.</param>
    /// <param name="asOf">At this moment; null: now.</param>
    /// <param name="knownAt">By what was recorded by this moment; null: by all that is.</param>
    /// <param name="cancellation">Ends the waiting.</param>
    public Task<StructureView> GetStructureAsync(UnitRef unit, DateTimeOffset? asOf = null, DateTimeOffset? knownAt = null, CancellationToken cancellation = default)
    {
        ArgumentNullException.ThrowIfNull(unit);
        return AskAsync<StructureView>(Address.With(Address.Of("units", unit.Item, unit.Serial, "structure"), ("asOf", asOf), ("knownAt", knownAt)), cancellation);
    }

    /// <summary>Gives what a unit was made of when it was first released.</summary>
    /// <param name="unit">The unit.</param>
    /// <param name="knownAt">By what was recorded by this moment; null: by all that is.</param>
    /// <param name="cancellation">Ends the waiting.</param>
    public Task<StructureView> GetStructureAsBuiltAsync(UnitRef unit, DateTimeOffset? knownAt = null, CancellationToken cancellation = default)
    {
        ArgumentNullException.ThrowIfNull(unit);
        return AskAsync<StructureView>(Address.With(Address.Of("units", unit.Item, unit.Serial, "structure"), ("asBuilt", true), ("knownAt", knownAt)), cancellation);
    }

    /// <summary>Gives a page of nonconformances, newest first.</summary>
    public Task<NonconformancePage> GetNonconformancesAsync(NonconformanceQuestion question, CancellationToken cancellation = default)
    {
        ArgumentNullException.ThrowIfNull(question);
        return AskAsync<NonconformancePage>(question.Of(Address.Of("nonconformances")), cancellation);
    }

    /// <summary>Gives one nonconformance with everything that was recorded about it.</summary>
    /// <param name="unit">The unit.</param>
    /// <param name="id">Its id within the unit, as the list tells it.</param>
    /// <param name="cancellation">Ends the waiting.</param>
    public Task<NonconformanceView> GetNonconformanceAsync(UnitRef unit, string id, CancellationToken cancellation = default)
    {
        ArgumentNullException.ThrowIfNull(unit);
        return AskAsync<NonconformanceView>(Address.Of("nonconformances", unit.Item, unit.Serial, id), cancellation);
    }

    /// <summary>Stores a photo or file, so that facts can name it by its hash. The same content again is stored once.</summary>
    /// <param name="content">The content.</param>
    /// <param name="mediaType">Its media type, such as image/png.</param>
    /// <param name="cancellation">Ends the waiting.</param>
    public async Task<StoredAttachment> StoreAttachmentAsync(ReadOnlyMemory<byte> content, string mediaType, CancellationToken cancellation = default)
    {
        var type = MediaTypeHeaderValue.Parse(mediaType);
        using var response = await SendAsync(HttpMethod.Post, Address.Of("attachments"), Body, RequestClock.Own, mayRepeat: true, cancellation).ConfigureAwait(false);
        await RequireSuccessAsync(response, cancellation).ConfigureAwait(false);
        return await ReadAsync<StoredAttachment>(response, cancellation).ConfigureAwait(false);

        HttpContent Body()
        {
            var body = new ReadOnlyMemoryContent(content);
            body.Headers.ContentType = type;
            return body;
        }
    }

    /// <summary>Gives the content of a stored photo or file.</summary>
    /// <param name="hash">Its SHA-256, 64 hexadecimal digits.</param>
    /// <param name="cancellation">Ends the waiting.</param>
    public Task<byte[]> GetAttachmentAsync(string hash, CancellationToken cancellation = default) => DownloadAsync(Address.Of("attachments", hash), cancellation);

    /// <summary>Finds what failed units share more than a comparison does.</summary>
    public Task<SharedFactorFound> FindSharedFactorsAsync(SharedFactorQuestion question, CancellationToken cancellation = default) =>
        PostAsync<SharedFactorQuestion, SharedFactorFound>(Address.Of("shared-factors"), question, cancellation);

    /// <summary>Lists what is wrong with the service, and what is due in the works, now.</summary>
    public Task<AlarmList> GetAlarmsAsync(CancellationToken cancellation = default) => AskAsync<AlarmList>(Address.Of("alarms"), cancellation);

    // Each either records nothing or carries an id, so that asking twice does no harm.
    private async Task<TAnswer> PostAsync<TQuestion, TAnswer>(string path, TQuestion question, CancellationToken cancellation)
    {
        ArgumentNullException.ThrowIfNull(question);
        var body = JsonSerializer.SerializeToUtf8Bytes(question, WireJson.Options);
        using var response = await SendAsync(HttpMethod.Post, path, Json(body), RequestClock.Own, mayRepeat: true, cancellation).ConfigureAwait(false);
        await RequireSuccessAsync(response, cancellation).ConfigureAwait(false);
        return await ReadAsync<TAnswer>(response, cancellation).ConfigureAwait(false);
    }
}
