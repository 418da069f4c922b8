using System.Net;
using System.Net.Http.Headers;
using Polly;
using Polly.CircuitBreaker;
using Polly.Retry;
using Polly.Timeout;

namespace Traceability.Client.Http;

/// <summary>Sends requests with a time limit for each try, retries where they are harmless, and a circuit that opens when nothing answers.</summary>
internal sealed class RequestPipeline
{
    private readonly ResiliencePipeline<HttpResponseMessage> once;
    private readonly ResiliencePipeline<HttpResponseMessage> repeated;
    private readonly CircuitBreakerStateProvider circuit = new();
    private readonly TraceabilityClientOptions options;

    public RequestPipeline(TraceabilityClientOptions options, TimeProvider time)
    {
        this.options = options;
        once = new ResiliencePipelineBuilder<HttpResponseMessage> { TimeProvider = time }
            .AddCircuitBreaker(new CircuitBreakerStrategyOptions<HttpResponseMessage>
            {
                FailureRatio = options.CircuitFailureShare,
                MinimumThroughput = options.CircuitTriesMin,
                SamplingDuration = options.CircuitWindow,
                BreakDuration = options.CircuitBreak,
                StateProvider = circuit,
                ShouldHandle = static a => ValueTask.FromResult(IsBroken(a.Outcome.Exception) || a.Outcome.Result is { StatusCode: >= HttpStatusCode.InternalServerError }),
            })
            .AddTimeout(new TimeoutStrategyOptions { Timeout = options.TryTimeout })
            .Build();
        var builder = new ResiliencePipelineBuilder<HttpResponseMessage> { TimeProvider = time };
        if (options.TriesMax > 1)
        {
            builder.AddRetry(new RetryStrategyOptions<HttpResponseMessage>
            {
                MaxRetryAttempts = options.TriesMax - 1,
                BackoffType = DelayBackoffType.Exponential,
                UseJitter = true,
                Delay = options.FirstWait,
                MaxDelay = options.WaitMax,
                ShouldHandle = static a => ValueTask.FromResult(IsBroken(a.Outcome.Exception) || a.Outcome.Result is { } r && IsPassing(r.StatusCode)),
                DelayGenerator = static a => ValueTask.FromResult(a.Outcome.Result is { } r ? RetryAfter(r) : null),
            });
        }

        repeated = builder.AddPipeline(once).Build();
    }

    /// <summary>Whether the circuit is open: the next request is not sent.</summary>
    public bool IsCircuitOpen => circuit.CircuitState is CircuitState.Open or CircuitState.Isolated;

    /// <summary>When the service wants to be asked again, if it says so in seconds.</summary>
    public static TimeSpan? RetryAfter(HttpResponseMessage response) =>
        response.Headers.RetryAfter is RetryConditionHeaderValue { Delta: { } wait } && wait > TimeSpan.Zero ? wait : null;

    /// <summary>Sends it; throws <see cref="TraceabilityUnreachableException"/> if no whole answer came.</summary>
    /// <param name="mayRepeat">Whether sending it twice does no harm.</param>
    /// <param name="send">Makes and sends a request of its own at each try.</param>
    /// <param name="cancellation">Ends the waiting.</param>
    public async Task<HttpResponseMessage> SendAsync(
        bool mayRepeat, Func<CancellationToken, Task<HttpResponseMessage>> send, CancellationToken cancellation)
    {
        try
        {
            return await (mayRepeat ? repeated : once).ExecuteAsync(
                static async (work, token) => await work(token).ConfigureAwait(false), send, cancellation).ConfigureAwait(false);
        }
        catch (BrokenCircuitException e)
        {
            throw new TraceabilityUnreachableException("The service did not answer several times; nothing is sent for a while.", e, isCircuitOpen: true, e.RetryAfter ?? options.CircuitBreak);
        }
        catch (Exception e) when (IsBroken(e) && !cancellation.IsCancellationRequested)
        {
            throw new TraceabilityUnreachableException(e is TimeoutRejectedException ? "The service did not answer in time." : $"The service can't be reached: {e.Message}", e);
        }
    }

    private static bool IsPassing(HttpStatusCode status) => status is HttpStatusCode.RequestTimeout or HttpStatusCode.TooManyRequests
        or HttpStatusCode.InternalServerError or HttpStatusCode.BadGateway or HttpStatusCode.ServiceUnavailable or HttpStatusCode.GatewayTimeout;

    // A cancellation by the client's own time limit is told apart from the caller's by its inner exception.
    private static bool IsBroken(Exception? exception) =>
        exception is HttpRequestException or IOException or TimeoutRejectedException or TaskCanceledException { InnerException: TimeoutException };
}
