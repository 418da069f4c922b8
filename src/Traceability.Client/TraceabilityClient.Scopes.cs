using System.Net.Http.Headers;
using System.Text.Json;
using Traceability.Client.Http;
using Traceability.Contracts;
using Traceability.Contracts.Narrowing;
using Traceability.Contracts.Scope;

namespace Traceability.Client;

/// <content>Which units a suspect reaches, whatever is suspected; saved questions; narrowing.</content>
public sealed partial class TraceabilityClient
{
    /// <summary>Gives a page of the units that a suspect, or a combination of suspects, reaches or may have reached.</summary>
    /// <param name="suspect">What is suspected.</param>
    /// <param name="page">Which page; null: the first.</param>
    /// <param name="cancellation">Ends the waiting.</param>
    /// <exception cref="TraceabilityProblemException">Nothing is known of a suspect; the problem's errors name each.</exception>
    /// <remarks>Look at the answer's completeness and remarks before you rely on it. A unit that is not in it is not cleared by that.</remarks>
    public Task<ScopeQuestionAnswer> AskScopeAsync(SuspectNode suspect, ScopePage? page = null, CancellationToken cancellation = default)
    {
        ArgumentNullException.ThrowIfNull(suspect);
        return PostAsync<ScopeQuestion, ScopeQuestionAnswer>((page ?? new()).Of(Address.Of("scopes")), new(suspect), cancellation);
    }

    /// <summary>Gives the pages of such a scope one after another. Each is taken at its own moment (see AsOf).</summary>
    /// <param name="suspect">What is suspected.</param>
    /// <param name="limit">The most members of each page, 1 to 1,000.</param>
    /// <param name="cancellation">Ends the waiting.</param>
    public IAsyncEnumerable<ScopeQuestionAnswer> AskWholeScopeAsync(SuspectNode suspect, int limit = 1_000, CancellationToken cancellation = default)
    {
        ArgumentNullException.ThrowIfNull(suspect);
        return PagesAsync((after, token) => AskScopeAsync(suspect, new() { Limit = limit, After = after }, token), static p => p.After, cancellation);
    }

    /// <summary>Tells how a scope would shrink if less were suspected, and which missing facts would clear the most units. It clears nothing.</summary>
    public Task<NarrowingAnswer> NarrowScopeAsync(NarrowingQuestion question, CancellationToken cancellation = default) =>
        PostAsync<NarrowingQuestion, NarrowingAnswer>(Address.Of("scopes", "narrowing"), question, cancellation);

    /// <summary>Gives a page of the saved questions, by name.</summary>
    /// <param name="limit">The most of the page, 1 to 1,000; null: 100.</param>
    /// <param name="after">What the page before said as "after".</param>
    /// <param name="cancellation">Ends the waiting.</param>
    public Task<SavedScopePage> GetSavedScopesAsync(int? limit = null, string? after = null, CancellationToken cancellation = default) =>
        AskAsync<SavedScopePage>(Address.With(Address.Of("scopes"), ("limit", limit), ("after", after)), cancellation);

    /// <summary>Gives a saved question.</summary>
    public Task<SavedScope> GetSavedScopeAsync(string name, CancellationToken cancellation = default) => AskAsync<SavedScope>(Address.Of("scopes", name), cancellation);

    /// <summary>Saves a question under a name. A repeat changes nothing.</summary>
    /// <param name="name">The name.</param>
    /// <param name="question">The question.</param>
    /// <param name="replaces">The version that was read and that this one replaces; null: the name must be free.</param>
    /// <param name="cancellation">Ends the waiting; it may be saved all the same.</param>
    /// <exception cref="TraceabilityProblemException">scope-question-exists: another question stands there, or somebody replaced it meanwhile.</exception>
    public async Task<SavedScope> SaveScopeAsync(string name, SaveScope question, int? replaces = null, CancellationToken cancellation = default)
    {
        ArgumentNullException.ThrowIfNull(question);
        var body = JsonSerializer.SerializeToUtf8Bytes(question, WireJson.Options);
        var version = replaces is { } number ? new EntityTagHeaderValue(FormattableString.Invariant($"\"{number}\"")) : null;
        using var response = await SendAsync(HttpMethod.Put, Address.Of("scopes", name), Json(body), RequestClock.Own, mayRepeat: true, cancellation, version).ConfigureAwait(false);
        await RequireSuccessAsync(response, cancellation).ConfigureAwait(false);
        return await ReadAsync<SavedScope>(response, cancellation).ConfigureAwait(false);
    }

    /// <summary>Removes a saved question. Nothing that was recorded is touched.</summary>
    /// <returns>Whether there was one. After a try whose answer was lost, false may be the answer although it was this call that removed it.</returns>
    public async Task<bool> RemoveSavedScopeAsync(string name, CancellationToken cancellation = default)
    {
        using var response = await SendAsync(HttpMethod.Delete, Address.Of("scopes", name), null, RequestClock.Own, mayRepeat: true, cancellation).ConfigureAwait(false);
        if (response.IsSuccessStatusCode)
        {
            return true;
        }

        var problem = await ProblemReader.ReadAsync(response, cancellation).ConfigureAwait(false);
        return problem.Code == ProblemCodes.ScopeQuestionUnknown ? false : throw new TraceabilityProblemException(problem, RequestPipeline.RetryAfter(response));
    }

    /// <summary>Gives a page of the answer to a saved question, as of now.</summary>
    /// <param name="name">The name that it is saved under.</param>
    /// <param name="page">Which page; null: the first.</param>
    /// <param name="cancellation">Ends the waiting.</param>
    /// <remarks>Look at the answer's completeness and remarks before you rely on it.</remarks>
    public Task<ScopeQuestionAnswer> GetSavedScopeMembersAsync(string name, ScopePage? page = null, CancellationToken cancellation = default) =>
        AskAsync<ScopeQuestionAnswer>((page ?? new()).Of(Address.Of("scopes", name, "members")), cancellation);

    /// <summary>Gives the pages of the answer to a saved question one after another. Each is taken at its own moment (see AsOf).</summary>
    /// <param name="name">The name that it is saved under.</param>
    /// <param name="limit">The most members of each page, 1 to 1,000.</param>
    /// <param name="cancellation">Ends the waiting.</param>
    public IAsyncEnumerable<ScopeQuestionAnswer> GetWholeSavedScopeAsync(string name, int limit = 1_000, CancellationToken cancellation = default) =>
        PagesAsync((after, token) => GetSavedScopeMembersAsync(name, new() { Limit = limit, After = after }, token), static p => p.After, cancellation);
}
