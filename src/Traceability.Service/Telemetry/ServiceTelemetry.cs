using System.Diagnostics;
using System.Diagnostics.Metrics;

namespace Traceability.Service.Telemetry;

/// <summary>The service's own traces and metrics. Names follow OpenTelemetry's naming: lower case, dots, unit apart.</summary>
internal static class ServiceTelemetry
{
    /// <summary>Name of the trace source and of the meter.</summary>
    public const string Name = "Traceability.Service";

    public static readonly ActivitySource Source = new(Name);

    private static readonly Meter Meter = new(Name);

    public static readonly Counter<long> FactsRecorded = Meter.CreateCounter<long>("traceability.facts.recorded", "{fact}", "Facts stored for the first time");

    public static readonly Histogram<int> GroupSize = Meter.CreateHistogram<int>("traceability.ingest.group.size", "{fact}", "Facts in one commit");

    public static readonly Histogram<double> GroupDuration = Meter.CreateHistogram<double>("traceability.ingest.group.duration", "ms", "Time from planning to commit");

    public static readonly Counter<long> GroupRetries = Meter.CreateCounter<long>("traceability.ingest.group.retries", "{retry}", "Groups planned anew");

    public static readonly Counter<long> GroupsFailed = Meter.CreateCounter<long>("traceability.ingest.group.failed", "{group}", "Groups that could not be stored");
}
