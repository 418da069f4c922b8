using Traceability.Client.Http;
using Traceability.Contracts.Containments;

namespace Traceability.Client;

/// <content>Containments: a scope put under a case, its members held, followed up, closed.</content>
/// <remarks>
/// What people record of a case are facts: <see cref="Contracts.Facts.FollowUpRecorded"/>, <see cref="Contracts.Facts.LateMembersAcknowledged"/>,
/// <see cref="Contracts.Facts.ContainmentClosed"/> and <see cref="Contracts.Facts.ContainmentReopened"/> go through RecordAsync or an outbox.
/// Opening, refreshing, holding and the report of a case with tens of thousands of members take longer than the default of
/// <see cref="TraceabilityClientOptions.TryTimeout"/>; give a client for that a minute or more. Asking again after a try that was
/// not answered does nothing twice.
/// </remarks>
public sealed partial class TraceabilityClient
{
    /// <summary>Opens a containment: runs the question and records the members as found.</summary>
    /// <param name="request">What is suspected, and why. Its id makes a repeat harmless.</param>
    /// <param name="cancellation">Ends the waiting; the case may be opened all the same.</param>
    /// <exception cref="TraceabilityProblemException">containment-already-opened, or nothing is known of a suspect; the problem's errors name each.</exception>
    public Task<ContainmentView> OpenContainmentAsync(ContainmentRequest request, CancellationToken cancellation = default) =>
        PostAsync<ContainmentRequest, ContainmentView>(Address.Of("containments"), request, cancellation);

    /// <summary>Runs the question of a case again now, and records the difference. The service does so by itself when facts have been recorded.</summary>
    /// <param name="containment">The number of the case.</param>
    /// <param name="cancellation">Ends the waiting; what was found may be recorded all the same.</param>
    public async Task<ContainmentRefreshed> RefreshContainmentAsync(string containment, CancellationToken cancellation = default)
    {
        // Asking again finds no difference that is recorded.
        using var response = await SendAsync(HttpMethod.Post, Address.Of("containments", containment, "refresh"), null, RequestClock.Own, mayRepeat: true, cancellation).ConfigureAwait(false);
        await RequireSuccessAsync(response, cancellation).ConfigureAwait(false);
        return await ReadAsync<ContainmentRefreshed>(response, cancellation).ConfigureAwait(false);
    }

    /// <summary>Holds every member that has not left, and lifts the holds of those whose outcome asks for none.</summary>
    /// <param name="containment">The number of the case.</param>
    /// <param name="request">Who has it done.</param>
    /// <param name="cancellation">Ends the waiting; holds may be set all the same.</param>
    /// <returns>What became of how many members, and of at most 1,000 of them each. Look for "refused".</returns>
    public Task<HoldsSet> SetContainmentHoldsAsync(string containment, ContainmentHoldsRequest request, CancellationToken cancellation = default) =>
        PostAsync<ContainmentHoldsRequest, HoldsSet>(Address.Of("containments", containment, "holds"), request, cancellation);

    /// <summary>Gives a page of containments, newest first.</summary>
    /// <param name="states">Only these states: open, closed; null: all.</param>
    /// <param name="limit">The most of the page, 1 to 1,000; null: 100.</param>
    /// <param name="after">What the page before said as "after".</param>
    /// <param name="cancellation">Ends the waiting.</param>
    public Task<ContainmentPage> GetContainmentsAsync(
        IReadOnlyList<string>? states = null, int? limit = null, string? after = null, CancellationToken cancellation = default) =>
        AskAsync<ContainmentPage>(Address.With(Address.Of("containments"), ("state", states), ("limit", limit), ("after", after)), cancellation);

    /// <summary>Gives one case with its figures, its runs and its closings.</summary>
    /// <param name="containment">The number of the case.</param>
    /// <param name="cancellation">Ends the waiting.</param>
    public Task<ContainmentView> GetContainmentAsync(string containment, CancellationToken cancellation = default) =>
        AskAsync<ContainmentView>(Address.Of("containments", containment), cancellation);

    /// <summary>Gives a page of the members of a case, by unit, with where they are now and their last outcomes.</summary>
    /// <param name="containment">The number of the case.</param>
    /// <param name="only">Only these: open (without a final outcome), late, late-not-acknowledged, not-reached; null: all.</param>
    /// <param name="limit">The most members of the page, 1 to 1,000; null: 100.</param>
    /// <param name="after">What the page before said as "after".</param>
    /// <param name="cancellation">Ends the waiting.</param>
    public Task<ContainmentMemberPage> GetContainmentMembersAsync(
        string containment, string? only = null, int? limit = null, string? after = null, CancellationToken cancellation = default) =>
        AskAsync<ContainmentMemberPage>(
            Address.With(Address.Of("containments", containment, "members"), ("only", only), ("limit", limit), ("after", after)), cancellation);

    /// <summary>Gives the pages of members one after another. Each is taken at its own moment (see AsOf).</summary>
    /// <param name="containment">The number of the case.</param>
    /// <param name="only">Only these: open, late, late-not-acknowledged, not-reached; null: all.</param>
    /// <param name="limit">The most members of each page, 1 to 1,000.</param>
    /// <param name="cancellation">Ends the waiting.</param>
    public IAsyncEnumerable<ContainmentMemberPage> GetAllContainmentMembersAsync(
        string containment, string? only = null, int limit = 1_000, CancellationToken cancellation = default) =>
        PagesAsync((after, token) => GetContainmentMembersAsync(containment, only, limit, after, token), static p => p.After, cancellation);

    /// <summary>Gives a page of the consignees that have members, by consignee and unit; a page counts members.</summary>
    /// <param name="containment">The number of the case.</param>
    /// <param name="limit">The most members of the page, 1 to 1,000; null: 100.</param>
    /// <param name="after">What the page before said as "after".</param>
    /// <param name="cancellation">Ends the waiting.</param>
    public Task<ConsigneePage> GetContainmentConsigneesAsync(string containment, int? limit = null, string? after = null, CancellationToken cancellation = default) =>
        AskAsync<ConsigneePage>(Address.With(Address.Of("containments", containment, "consignees"), ("limit", limit), ("after", after)), cancellation);

    /// <summary>Gives the pages of consignees one after another. A consignee whose members go over several pages stands on each.</summary>
    /// <param name="containment">The number of the case.</param>
    /// <param name="limit">The most members of each page, 1 to 1,000.</param>
    /// <param name="cancellation">Ends the waiting.</param>
    public IAsyncEnumerable<ConsigneePage> GetAllContainmentConsigneesAsync(string containment, int limit = 1_000, CancellationToken cancellation = default) =>
        PagesAsync((after, token) => GetContainmentConsigneesAsync(containment, limit, after, token), static p => p.After, cancellation);

    /// <summary>Gives the whole case as a file to keep.</summary>
    /// <param name="containment">The number of the case.</param>
    /// <param name="format">html (prints by itself), pdf, or csv (the members).</param>
    /// <param name="cancellation">Ends the waiting.</param>
    /// <returns>The file's content; HTML and CSV are UTF-8.</returns>
    public Task<byte[]> GetContainmentReportAsync(string containment, string format = "html", CancellationToken cancellation = default) =>
        DownloadAsync(Address.With(Address.Of("containments", containment, "report"), ("format", format)), cancellation);
}
