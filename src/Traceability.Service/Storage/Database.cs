using System.Globalization;
using Npgsql;

namespace Traceability.Service.Storage;

/// <summary>The database as the service uses it.</summary>
internal static class Database
{
    // The committer's statements are the same every time, with arrays of differing lengths. The server would plan each anew, for
    // it takes a plan for known lengths to be cheaper; the planning cost more than the statements. Every row is found by a key:
    // a plan that was made while a table was small must not read all of it when it is large.
    internal const string ForCommits = " -c plan_cache_mode=force_generic_plan -c enable_seqscan=off";

    /// <summary>Opens a pool on the database; connects only when first used.</summary>
    public static NpgsqlDataSource Open(string connectionString, StorageOptions options) =>
        Open(connectionString, options, "traceability", " -c idle_in_transaction_session_timeout=60000");

    /// <summary>The same under a name of its own, with further settings of the server for each connection, such as <see cref="ForCommits"/>.</summary>
    internal static NpgsqlDataSource Open(string connectionString, StorageOptions options, string name, string more)
    {
        var settings = new NpgsqlConnectionStringBuilder(connectionString)
        {
            MaxPoolSize = options.ConnectionsMax,
            MaxAutoPrepare = 120,
            AutoPrepareMinUsages = 2,
            ApplicationName = name,
            IncludeErrorDetail = true,

            // No statement here leaves anything behind in its session; the reset costs seven statements at each use.
            NoResetOnClose = true,

            // An idle transaction would hold back everything that waits for it; the estimates of a just-in-time compiler are
            // wrong for the short queries here.
            Options = "-c jit=off -c timezone=UTC" + more,
        };
        var builder = new NpgsqlDataSourceBuilder(settings.ConnectionString) { Name = "traceability" };
        return builder.Build();
    }
}

/// <summary>The database as the committer uses it: one connection, with plans that are made once.</summary>
internal sealed class CommitDatabase(string connectionString, StorageOptions options) : IAsyncDisposable, IDisposable
{
    /// <summary>Name of the sessions that commit.</summary>
    public const string SessionName = "traceability-commit";

    private readonly NpgsqlDataSource _source = Database.Open(
        connectionString,
        options,
        SessionName,
        Database.ForCommits + string.Create(CultureInfo.InvariantCulture, $" -c idle_in_transaction_session_timeout={(long)options.AbandonedAfter.TotalMilliseconds}"));

    public ValueTask<NpgsqlConnection> OpenConnectionAsync() => _source.OpenConnectionAsync();

    /// <inheritdoc />
    public ValueTask DisposeAsync() => _source.DisposeAsync();

    /// <inheritdoc />
    public void Dispose() => _source.Dispose();
}
