using System.ComponentModel.DataAnnotations;

namespace Traceability.Service.Telemetry;

/// <summary>Where traces, metrics and logs are sent. Bound from "Telemetry" and checked when the service starts.</summary>
public sealed class TelemetryOptions : IValidatableObject
{
    /// <summary>Name of the configuration section.</summary>
    public const string SectionName = "Telemetry";

    /// <summary>The environment variable of the OpenTelemetry specification, which counts too.</summary>
    public const string StandardVariable = "OTEL_EXPORTER_OTLP_ENDPOINT";

    /// <summary>Gets or sets the collector's address (OTLP over gRPC), such as http://127.0.0.1:4317.</summary>
    /// <value>Default none: nothing is sent. Metrics can be fetched from /metrics in any case.</value>
    public Uri? OtlpEndpoint { get; set; }

    /// <summary>Gets or sets the share of requests that are traced, where the caller has not decided it.</summary>
    /// <value>Default 1, all; at least 0, at most 1.</value>
    [Range(0.0, 1.0)]
    public double TracedShare { get; set; } = 1.0;

    /// <inheritdoc />
    public IEnumerable<ValidationResult> Validate(ValidationContext validationContext)
    {
        if (OtlpEndpoint is { } endpoint && !(endpoint.IsAbsoluteUri && endpoint.Scheme is "http" or "https"))
        {
            yield return new("The collector's address begins with http:// or https://.", [nameof(OtlpEndpoint)]);
        }
    }
}
