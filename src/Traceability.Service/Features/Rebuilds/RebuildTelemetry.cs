using System.Diagnostics.Metrics;
using Traceability.Service.Telemetry;

namespace Traceability.Service.Features.Rebuilds;

/// <summary>What is counted about rebuilds.</summary>
internal static class RebuildTelemetry
{
    private static readonly Meter Meter = new(ServiceTelemetry.Name);

    public static readonly Counter<long> Ended = Meter.CreateCounter<long>("traceability.rebuild.ended", "{rebuild}", "Rebuilds that ended, by their state");

    public static readonly Counter<long> Differing = Meter.CreateCounter<long>("traceability.rebuild.differing_units", "{unit}", "Units whose live rows a rebuild found to differ from their facts");
}
