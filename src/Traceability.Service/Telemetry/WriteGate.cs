using System.Collections.Concurrent;
using System.Globalization;
using Microsoft.AspNetCore.Authorization;
using Traceability.Service.Http;
using Traceability.Service.Security;

namespace Traceability.Service.Telemetry;

/// <summary>Closed while nothing may be acknowledged: recording is answered 503 with Retry-After, and senders keep what they have.</summary>
internal sealed class WriteGate
{
    private static readonly TimeSpan RetryAfter = TimeSpan.FromSeconds(5);
    private readonly ConcurrentDictionary<string, string> _reasons = new(StringComparer.Ordinal);
    private volatile string? _reason;

    /// <summary>Why nothing may be recorded; null while all is well.</summary>
    public string? Reason => _reason;

    /// <summary>Closes the gate for a reason, or takes the reason back.</summary>
    public void Set(string topic, string? reason)
    {
        if (reason is null)
        {
            _reasons.TryRemove(topic, out _);
        }
        else
        {
            _reasons[topic] = reason;
        }

        _reason = _reasons.IsEmpty ? null : string.Join(' ', _reasons.OrderBy(r => r.Key, StringComparer.Ordinal).Select(r => r.Value));
    }

    /// <summary>Answers requests that would record something, while the gate is closed. A question asked by POST is let through.</summary>
    public async Task PassAsync(HttpContext context, RequestDelegate next)
    {
        if (_reason is { } reason && Records(context.GetEndpoint()))
        {
            context.Response.Headers.RetryAfter = ((int)RetryAfter.TotalSeconds).ToString(CultureInfo.InvariantCulture);
            await Problems.WriteAsync(context, ProblemKind.StoreUnavailable, reason);
            return;
        }

        await next(context);
    }

    // Whoever may only ask or administer records nothing.
    private static bool Records(Endpoint? endpoint) =>
        endpoint?.Metadata.GetOrderedMetadata<IAuthorizeData>().Any(a => a.Policy is Policies.Record or Policies.Decide or Policies.Define) == true;
}
