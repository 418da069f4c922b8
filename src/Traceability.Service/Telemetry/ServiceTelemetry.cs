using System.Collections.Concurrent;
using System.Diagnostics;
using System.Diagnostics.Metrics;
using Traceability.Service.Telemetry.Alarms;

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

    public static readonly Counter<long> SigningFailures = Meter.CreateCounter<long>("traceability.signing.failures", "{attempt}", "Signatures refused for a wrong secret");

    /// <summary>The watches of alarms in this process: one, but in tests.</summary>
    public static readonly ConcurrentDictionary<AlarmWatch, bool> Watches = new();

    public static readonly ObservableGauge<long> Alarms = Meter.CreateObservableGauge(
        "traceability.alarms",
        static () => Watches.Keys.SelectMany(w => w.Standing).Select(a => new Measurement<long>(a.Count, new KeyValuePair<string, object?>("kind", a.Kind))),
        "{thing}",
        "Alarms that stand: how many things each is about");

    public static readonly Counter<long> GroupsFailed = Meter.CreateCounter<long>("traceability.ingest.group.failed", "{group}", "Groups that could not be stored");
}
