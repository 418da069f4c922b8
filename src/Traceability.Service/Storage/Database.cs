using Npgsql;

namespace Traceability.Service.Storage;

/// <summary>The database as the service uses it.</summary>
internal static class Database
{
    // The committer's statements are the same every time, with arrays of differing lengths. The server would plan each anew, for
    // it takes a plan for known lengths to be cheaper; the planning cost more than the statements. Every row is found by a key:
    // a plan that was made while a table was small must not read all of it when it is large.
    // A lock that somebody holds for long must not hold the committer for ever: it tells the senders to come back.
    internal const string ForCommits = " -c plan_cache_mode=force_generic_plan -c enable_seqscan=off -c lock_timeout=5000 -c statement_timeout=30000";

    /// <summary>How long a transaction of the service may do nothing before the database ends it.</summary>
    internal static readonly TimeSpan IdleTransactionMax = TimeSpan.FromSeconds(20);

    // An answer that takes longer is of no use to whoever asked, and would keep old rows from being cleared away.
    private const string ForAnswers = " -c lock_timeout=10000 -c statement_timeout=120000";

    /// <summary>Opens a pool on the database; connects only when first used.</summary>
    public static NpgsqlDataSource Open(string connectionString, StorageOptions options) => Open(connectionString, options, "traceability", ForAnswers);

    /// <summary>The same under a name of its own, with further settings of the server for each connection, such as <see cref="ForCommits"/>.</summary>
    /// <remarks>Of several hosts that the connection string names the primary is used, whichever it is.</remarks>
    internal static NpgsqlDataSource Open(string connectionString, StorageOptions options, string name, string more) =>
        Build(connectionString, options, more, name, TargetSessionAttributes.Primary);

    /// <summary>Opens a pool on servers to read from: standbys, and the primary only if none answers and it is named beside them.</summary>
    internal static NpgsqlDataSource OpenForReading(string connectionString, StorageOptions options) =>
        Build(connectionString, options, ForAnswers + " -c default_transaction_read_only=on", "traceability-read", TargetSessionAttributes.PreferStandby);

    private static NpgsqlDataSource Build(string connectionString, StorageOptions options, string more, string name, TargetSessionAttributes target)
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
            // wrong for the short queries here, and those of parallel workers: to start and end them takes longer than a question does.
            Options = $"-c jit=off -c max_parallel_workers_per_gather=0 -c idle_in_transaction_session_timeout={(int)IdleTransactionMax.TotalMilliseconds} -c timezone=UTC{more}",
        };
        var builder = new NpgsqlDataSourceBuilder(settings.ConnectionString) { Name = name };
        return settings.Host?.Contains(',', StringComparison.Ordinal) == true ? builder.BuildMultiHost().WithTargetSession(target) : builder.Build();
    }
}

/// <summary>The database as the committer uses it: one connection, with plans that are made once.</summary>
internal sealed class CommitDatabase(string connectionString, StorageOptions options) : IAsyncDisposable, IDisposable
{
    /// <summary>Name of the sessions that commit.</summary>
    public const string SessionName = "traceability-commit";

    private readonly NpgsqlDataSource _source = Database.Open(connectionString, options, SessionName, Database.ForCommits);

    public ValueTask<NpgsqlConnection> OpenConnectionAsync() => _source.OpenConnectionAsync();

    /// <summary>Sees to it that no connection that is open now is used again.</summary>
    /// <remarks>
    /// After an error amid statements that were sent together, the driver may be mistaken about which of them the server has
    /// prepared; on the next use it then meets answers that it does not expect.
    /// </remarks>
    public void Discard() => _source.Clear();

    /// <inheritdoc />
    public ValueTask DisposeAsync() => _source.DisposeAsync();

    /// <inheritdoc />
    public void Dispose() => _source.Dispose();
}
