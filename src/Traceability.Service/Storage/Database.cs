using Npgsql;

namespace Traceability.Service.Storage;

/// <summary>The database as the service uses it.</summary>
internal static class Database
{
    /// <summary>Opens a pool on the database; connects only when first used.</summary>
    public static NpgsqlDataSource Open(string connectionString, StorageOptions options)
    {
        var settings = new NpgsqlConnectionStringBuilder(connectionString)
        {
            MaxPoolSize = options.ConnectionsMax,
            MaxAutoPrepare = 120,
            AutoPrepareMinUsages = 2,
            ApplicationName = "traceability",
            IncludeErrorDetail = true,

            // No statement here leaves anything behind in its session; the reset costs seven statements at each use.
            NoResetOnClose = true,

            // An idle transaction would hold back everything that waits for it; the estimates of a just-in-time compiler are
            // wrong for the short queries here.
            Options = "-c jit=off -c idle_in_transaction_session_timeout=60000 -c timezone=UTC",
        };
        var builder = new NpgsqlDataSourceBuilder(settings.ConnectionString) { Name = "traceability" };
        return builder.Build();
    }
}
