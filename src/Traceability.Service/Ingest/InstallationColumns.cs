using Npgsql;
using Traceability.Domain.Judging;

namespace Traceability.Service.Ingest;

/// <summary>Values of the table of installations that are made up of others.</summary>
internal static class InstallationColumns
{
    /// <summary>By how much each of the two times may be wrong; null for not at all.</summary>
    public static TimeSpan? Uncertainty(Installation installation) => installation.Uncertainty == TimeSpan.Zero ? null : installation.Uncertainty;

    /// <summary>The same as it is read back.</summary>
    public static TimeSpan Uncertainty(NpgsqlDataReader reader, int column) => reader.IsDBNull(column) ? TimeSpan.Zero : reader.GetTimeSpan(column);
}
