using System.Net.Http.Headers;
using System.Runtime.CompilerServices;
using System.Text.Json;
using Traceability.Client.Http;
using Traceability.Contracts;
using Traceability.Contracts.Facts;

namespace Traceability.Client;

/// <summary>Speaks with a Traceability service: records facts and asks its questions.</summary>
/// <remarks>
/// <para>Members may be used from any thread. Questions throw <see cref="TraceabilityProblemException"/> when the service answers
/// with a problem, and <see cref="TraceabilityUnreachableException"/> when it gives no answer.</para>
/// <para>Questions, and facts since they carry ids, are sent again after a failure that may pass. Every try says anew what the
/// terminal's clock shows, so that the service can measure it.</para>
/// </remarks>
public sealed partial class TraceabilityClient : IDisposable
{
    private readonly HttpClient http;
    private readonly bool ownsHttp;
    private readonly SocketsHttpHandler? connections;
    private readonly TraceabilityClientOptions options;
    private readonly TimeProvider time;
    private readonly RequestPipeline pipeline;
    private readonly ServerClock clock;
    private readonly Uri root;

    /// <summary>Makes a client with connections of its own.</summary>
    /// <param name="options">Address, key and limits.</param>
    /// <param name="time">The terminal's clock; null: the system's.</param>
    public TraceabilityClient(TraceabilityClientOptions options, TimeProvider? time = null)
        : this(options, null, time, ownsHttp: true)
    {
    }

    /// <summary>Makes a client over connections that the caller owns, from a factory, say.</summary>
    /// <param name="options">Address, key and limits.</param>
    /// <param name="http">The connections; its own time limit should be longer than <see cref="TraceabilityClientOptions.TryTimeout"/>.</param>
    /// <param name="time">The terminal's clock; null: the system's.</param>
    public TraceabilityClient(TraceabilityClientOptions options, HttpClient http, TimeProvider? time = null)
        : this(options, http ?? throw new ArgumentNullException(nameof(http)), time, ownsHttp: false)
    {
    }

    private TraceabilityClient(TraceabilityClientOptions options, HttpClient? http, TimeProvider? time, bool ownsHttp)
    {
        ArgumentNullException.ThrowIfNull(options);
        if (string.IsNullOrWhiteSpace(options.Key))
        {
            throw new ArgumentException("The key is empty.", nameof(options));
        }

        if (!options.Address.IsAbsoluteUri || options.Address.Scheme is not ("http" or "https"))
        {
            throw new ArgumentException($"The service's address is an http or https address, not '{options.Address}'.", nameof(options));
        }

        this.options = options;
        connections = http is null ? Connections(options.ConnectTimeout) : null;
        this.http = http ?? new(connections!, disposeHandler: false) { Timeout = Timeout.InfiniteTimeSpan };
        this.ownsHttp = ownsHttp;
        this.time = time ?? TimeProvider.System;
        root = new(options.Address.AbsoluteUri.TrimEnd('/') + "/");
        pipeline = new(options, this.time);
        clock = new(this.time);
    }

    /// <summary>Gets how far the service's clock is from the terminal's, as measured by the answers so far; null before the first.</summary>
    public ClockOffset? ClockOffset => clock.Current;

    /// <summary>Gets whether so many tries failed that nothing is sent for a while (<see cref="TraceabilityClientOptions.CircuitBreak"/>).</summary>
    public bool IsCircuitOpen => pipeline.IsCircuitOpen;

    /// <summary>Records one fact.</summary>
    /// <param name="fact">The fact; without an id it is given one before the first try.</param>
    /// <param name="cancellation">Ends the waiting; the fact may be recorded all the same.</param>
    /// <returns>What became of it.</returns>
    public Task<FactOutcome> RecordAsync(FactMessage fact, CancellationToken cancellation = default)
    {
        ArgumentNullException.ThrowIfNull(fact);
        var whole = fact.FactId is null ? fact with { FactId = FactIds.Next() } : fact;
        return RecordJsonAsync(JsonSerializer.SerializeToUtf8Bytes(whole, WireJson.Options), cancellation: cancellation);
    }

    /// <summary>Records one fact that is at hand as JSON.</summary>
    /// <param name="json">The fact, with its id, in UTF-8.</param>
    /// <param name="said">What to say of the clock that its times were read off; null: it is the terminal's as it is.</param>
    /// <param name="cancellation">Ends the waiting; the fact may be recorded all the same.</param>
    public async Task<FactOutcome> RecordJsonAsync(ReadOnlyMemory<byte> json, RequestClock? said = null, CancellationToken cancellation = default)
    {
        using var response = await SendAsync(HttpMethod.Post, "api/facts", Json(json), said ?? RequestClock.Own, mayRepeat: true, cancellation).ConfigureAwait(false);
        if (response.IsSuccessStatusCode)
        {
            var receipt = await ReadAsync<FactReceipt>(response, cancellation).ConfigureAwait(false);
            return new FactOutcome.Recorded(receipt);
        }

        var problem = await ProblemReader.ReadAsync(response, cancellation).ConfigureAwait(false);
        return IsOfTheRequest(problem.Status)
            ? throw new TraceabilityProblemException(problem, RequestPipeline.RetryAfter(response))
            : problem.Status >= 500 || problem.Status is 408 or 429 ? new FactOutcome.Later(problem) : new FactOutcome.Refused(problem);
    }

    /// <summary>Records many facts in one request. Each is judged alone; the answers are in the order of the facts.</summary>
    /// <param name="facts">The facts; those without an id are given one before the first try.</param>
    /// <param name="cancellation">Ends the waiting; facts may be recorded all the same.</param>
    public Task<IReadOnlyList<FactOutcome>> RecordBatchAsync(IReadOnlyList<FactMessage> facts, CancellationToken cancellation = default)
    {
        ArgumentNullException.ThrowIfNull(facts);
        return RecordJsonBatchAsync(
            [.. facts.Select(f => (ReadOnlyMemory<byte>)JsonSerializer.SerializeToUtf8Bytes(f.FactId is null ? f with { FactId = FactIds.Next() } : f, WireJson.Options))],
            cancellation: cancellation);
    }

    /// <summary>Records many facts that are at hand as JSON, each on one line.</summary>
    /// <param name="lines">The facts, with their ids, in UTF-8 and without line breaks.</param>
    /// <param name="said">What to say of the clock that their times were read off; null: it is the terminal's as it is.</param>
    /// <param name="cancellation">Ends the waiting; facts may be recorded all the same.</param>
    public async Task<IReadOnlyList<FactOutcome>> RecordJsonBatchAsync(
        IReadOnlyList<ReadOnlyMemory<byte>> lines, RequestClock? said = null, CancellationToken cancellation = default)
    {
        ArgumentNullException.ThrowIfNull(lines);
        if (lines.Count == 0)
        {
            return [];
        }

        var body = Ndjson.Join(lines);
        using var response = await SendAsync(
            HttpMethod.Post, "api/facts/batch", () => Content(body, "application/x-ndjson"), said ?? RequestClock.Own, mayRepeat: true, cancellation).ConfigureAwait(false);
        await RequireSuccessAsync(response, cancellation).ConfigureAwait(false);
        return Ndjson.Outcomes(await response.Content.ReadAsByteArrayAsync(cancellation).ConfigureAwait(false), lines.Count);
    }

    /// <summary>Asks whether the service answers, and measures its clock with it.</summary>
    /// <returns>The offset as far as it is known now.</returns>
    public async Task<ClockOffset?> MeasureClockAsync(CancellationToken cancellation = default)
    {
        using var response = await SendAsync(HttpMethod.Get, "health/live", null, RequestClock.Own, mayRepeat: true, cancellation).ConfigureAwait(false);
        await RequireSuccessAsync(response, cancellation).ConfigureAwait(false);
        return clock.Current;
    }

    /// <inheritdoc />
    public void Dispose()
    {
        if (ownsHttp)
        {
            http.Dispose();
            connections?.Dispose();
        }
    }

    // No key, a wrong one, or one of a role that may not ask here: no fault of the fact.
    private static bool IsOfTheRequest(int status) => status == 401;

    private static SocketsHttpHandler Connections(TimeSpan connectTimeout) => new()
    {
        ConnectTimeout = connectTimeout,
        PooledConnectionLifetime = TimeSpan.FromMinutes(5),
        AllowAutoRedirect = false,
        UseCookies = false,
    };

    private static Func<HttpContent> Json(ReadOnlyMemory<byte> json) => () => Content(json, "application/json");

    private static ReadOnlyMemoryContent Content(ReadOnlyMemory<byte> body, string mediaType)
    {
        var content = new ReadOnlyMemoryContent(body);
        content.Headers.ContentType = new(mediaType);
        return content;
    }

    private static async Task RequireSuccessAsync(HttpResponseMessage response, CancellationToken cancellation)
    {
        if (!response.IsSuccessStatusCode)
        {
            throw new TraceabilityProblemException(await ProblemReader.ReadAsync(response, cancellation).ConfigureAwait(false), RequestPipeline.RetryAfter(response));
        }
    }

    private static async Task<T> ReadAsync<T>(HttpResponseMessage response, CancellationToken cancellation)
    {
        try
        {
            var body = await response.Content.ReadAsByteArrayAsync(cancellation).ConfigureAwait(false);
            return JsonSerializer.Deserialize<T>(body, WireJson.Options) ?? throw new JsonException("The answer is null.");
        }
        catch (JsonException e)
        {
            throw new TraceabilityUnreachableException($"The answer is not one of this service: {e.Message}", e);
        }
    }

    // Each page is asked for when the one before has been taken.
    private static async IAsyncEnumerable<T> PagesAsync<T>(
        Func<string?, CancellationToken, Task<T>> ask, Func<T, string?> next, [EnumeratorCancellation] CancellationToken cancellation)
    {
        string? after = null;
        do
        {
            var page = await ask(after, cancellation).ConfigureAwait(false);
            yield return page;
            after = next(page);
        }
        while (after is not null);
    }

    private async Task<T> AskAsync<T>(string path, CancellationToken cancellation)
    {
        using var response = await SendAsync(HttpMethod.Get, path, null, RequestClock.Own, mayRepeat: true, cancellation).ConfigureAwait(false);
        await RequireSuccessAsync(response, cancellation).ConfigureAwait(false);
        return await ReadAsync<T>(response, cancellation).ConfigureAwait(false);
    }

    private async Task<byte[]> DownloadAsync(string path, CancellationToken cancellation)
    {
        using var response = await SendAsync(HttpMethod.Get, path, null, RequestClock.Own, mayRepeat: true, cancellation).ConfigureAwait(false);
        await RequireSuccessAsync(response, cancellation).ConfigureAwait(false);
        return await response.Content.ReadAsByteArrayAsync(cancellation).ConfigureAwait(false);
    }

    private Task<HttpResponseMessage> SendAsync(
        HttpMethod method, string path, Func<HttpContent>? content, RequestClock said, bool mayRepeat, CancellationToken cancellation, EntityTagHeaderValue? ifMatch = null)
    {
        var address = new Uri(root, path);
        return pipeline.SendAsync(mayRepeat, TryAsync, cancellation);

        async Task<HttpResponseMessage> TryAsync(CancellationToken token)
        {
            using var request = new HttpRequestMessage(method, address) { Content = content?.Invoke() };
            request.Headers.Authorization = new AuthenticationHeaderValue("Bearer", options.Key);
            var (asked, stamp) = (time.GetUtcNow(), time.GetTimestamp());
            if (said.HeaderAt(asked) is { } sentAt)
            {
                request.Headers.Add("Sent-At", sentAt);
            }

            if (ifMatch is not null)
            {
                request.Headers.IfMatch.Add(ifMatch);
            }

            var response = await http.SendAsync(request, HttpCompletionOption.ResponseContentRead, token).ConfigureAwait(false);
            if (response.Headers.Date is { } told)
            {
                clock.Learn(asked, asked + time.GetElapsedTime(stamp), told, ServerClock.DateFineness);
            }

            return response;
        }
    }
}
