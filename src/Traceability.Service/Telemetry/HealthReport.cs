using System.Text.Json.Serialization;

namespace Traceability.Service.Telemetry;

/// <summary>How the service is.</summary>
/// <param name="Status">ready or not-ready.</param>
/// <param name="IsDegraded">It works, but something is not as it should be: a check warns.</param>
/// <param name="Checks">What was looked at.</param>
internal sealed record HealthReport(string Status, bool IsDegraded, IReadOnlyList<HealthCheckResult> Checks)
{
    /// <summary>Whether nothing failed; a warning is no failure.</summary>
    [JsonIgnore]
    public bool IsReady => Checks.All(c => c.Status != HealthStatus.Fail);

    /// <summary>The report of these checks.</summary>
    public static HealthReport Of(IReadOnlyList<HealthCheckResult> checks) =>
        new(checks.All(c => c.Status != HealthStatus.Fail) ? "ready" : "not-ready", checks.Any(c => c.Status != HealthStatus.Pass), checks);
}

/// <summary>One thing that was looked at.</summary>
/// <param name="Name">What.</param>
/// <param name="Status">pass, warn or fail.</param>
/// <param name="Detail">A sentence: what was found, and what to do where it is not right.</param>
internal sealed record HealthCheckResult(string Name, HealthStatus Status, string Detail);

/// <summary>What a check found.</summary>
internal enum HealthStatus
{
    /// <summary>As it should be.</summary>
    Pass,

    /// <summary>Works, but not as it should.</summary>
    Warn,

    /// <summary>The service can't do its work, or can't keep what it acknowledges.</summary>
    Fail,
}
