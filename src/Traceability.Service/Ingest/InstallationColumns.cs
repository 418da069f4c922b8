using Traceability.Domain.Judging;

namespace Traceability.Service.Ingest;

/// <summary>Values of the table of installations that are made up of others.</summary>
internal static class InstallationColumns
{
    /// <summary>By how much each of the two times may be wrong; null for not at all.</summary>
    public static TimeSpan? Uncertainty(Installation installation) => installation.Uncertainty == TimeSpan.Zero ? null : installation.Uncertainty;
}
