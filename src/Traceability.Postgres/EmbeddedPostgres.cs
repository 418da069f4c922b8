using System.Globalization;
using Npgsql;

namespace Traceability.Postgres;

/// <summary>
/// A private PostgreSQL server, owned by this process: made on first use, reached only through a unix socket that other
/// users can't enter, started again when it dies, and shut down when it is disposed of or when this process dies.
/// </summary>
/// <remarks>Members may be used from any thread.</remarks>
public sealed class EmbeddedPostgres : IAsyncDisposable
{
    private static readonly TimeSpan PauseMin = TimeSpan.FromMilliseconds(200);
    private static readonly TimeSpan PauseMax = TimeSpan.FromSeconds(5);

    private readonly EmbeddedPostgresOptions options;
    private readonly ClusterFolder cluster;
    private readonly ServerAccount account;
    private readonly PostgresBinaries binaries;
    private readonly FolderLock owner;
    private readonly string socketFolder;
    private readonly CancellationTokenSource stopping = new();
    private ServerProcess? server;
    private Task keeping = Task.CompletedTask;
    private int disposed;

    private EmbeddedPostgres(EmbeddedPostgresOptions options, Place place, PostgresBinaries binaries)
    {
        this.options = options;
        this.binaries = binaries;
        (cluster, account, owner, socketFolder) = place;
        ConnectionString = Connection(ServerSettings.Role, ServerSettings.Database);
        SuperuserConnectionString = Connection(ServerSettings.Superuser, "postgres");
    }

    /// <summary>Gets the connection string of the service's own role and database. It stays the same when the server is started again.</summary>
    public string ConnectionString { get; }

    /// <summary>Gets the connection string of the superuser, for making databases in tests and for upkeep.</summary>
    public string SuperuserConnectionString { get; }

    /// <summary>Gets PostgreSQL's own data folder, as the server's <c>data_directory</c> tells it.</summary>
    public string DataDirectory => cluster.Path;

    /// <summary>Gets the process id of the running postmaster; that of the last one while it is started again.</summary>
    public int ProcessId { get; private set; }

    /// <summary>Gets the major version of the server.</summary>
    public int MajorVersion => binaries.MajorVersion;

    /// <summary>Starts the server, and makes its cluster first if there is none.</summary>
    /// <exception cref="EmbeddedPostgresException">
    /// The folder is in use, not ours, or of another version; PostgreSQL is not installed; or it does not start.
    /// </exception>
    public static async Task<EmbeddedPostgres> StartAsync(EmbeddedPostgresOptions options, CancellationToken cancellation = default)
    {
        ArgumentNullException.ThrowIfNull(options);
        var folder = ClusterFolder.Open(options.DataFolder);
        folder.RequireOurs();
        EmbeddedPostgres started;
        var hold = FolderLock.Take(folder.DataFolder);
        try
        {
            started = await PrepareAsync(options, folder, hold, cancellation).ConfigureAwait(false);
            hold = null;
        }
        finally
        {
            hold?.Dispose();
        }

        try
        {
            await started.RunAsync(cancellation).ConfigureAwait(false);
            started.keeping = started.KeepRunningAsync();
            return started;
        }
        catch
        {
            await started.DisposeAsync().ConfigureAwait(false);
            throw;
        }
    }

    /// <summary>Everything up to a whole cluster on which nothing runs.</summary>
    private static async Task<EmbeddedPostgres> PrepareAsync(
        EmbeddedPostgresOptions options, ClusterFolder folder, FolderLock hold, CancellationToken cancellation)
    {
        var user = await ServerAccount.ChooseAsync(folder.Path, options.SystemUser, cancellation).ConfigureAwait(false);
        var programs = options.BinFolder is { } bin ? PostgresBinaries.In(bin) : PostgresBinaries.Find(folder.MajorVersion);
        folder.RequireVersion(programs);
        await user.RequireReachableAsync(folder.DataFolder, cancellation).ConfigureAwait(false);
        await ClusterProcesses.EndAsync(folder.Path, options.StopTimeout, options.Log ?? (static _ => { }), cancellation).ConfigureAwait(false);
        SocketFolder.Remove(hold.LeftSocketFolder, folder.DataFolder);
        await folder.MakeAsync(programs, user, options.Durability, cancellation).ConfigureAwait(false);
        var socket = SocketFolder.Make(folder.DataFolder, user);
        hold.Write(socket);
        return new EmbeddedPostgres(options, new Place(folder, user, hold, socket), programs);
    }

    /// <summary>Shuts the server down (fast shutdown) and gives the data folder free.</summary>
    public async ValueTask DisposeAsync()
    {
        if (Interlocked.Exchange(ref disposed, 1) != 0)
        {
            return;
        }

        await stopping.CancelAsync().ConfigureAwait(false);
        await keeping.ConfigureAwait(false);
        if (server is not null)
        {
            server.Stop();
            await Task.WhenAny(server.Ended, Task.Delay(options.StopTimeout)).ConfigureAwait(false);
        }

        // Also ends a server whose keeper was killed, or that does not end by itself.
        await ClusterProcesses.EndAsync(cluster.Path, options.StopTimeout, Log, CancellationToken.None).ConfigureAwait(false);
        server?.Dispose();
        SocketFolder.Remove(socketFolder, cluster.DataFolder);
        owner.Write(socketFolder: null);
        owner.Dispose();
        stopping.Dispose();
    }

    /// <summary>One start, up to a database that answers and is ours.</summary>
    private async Task RunAsync(CancellationToken cancellation)
    {
        server?.Dispose();
        server = null;
        server = ServerProcess.Start(cluster, account, binaries, ServerSettings.Arguments(cluster, socketFolder, options));
        ProcessId = await server.ReadyAsync(options.StartTimeout, cancellation).ConfigureAwait(false);

        var unpooled = new NpgsqlConnectionStringBuilder(SuperuserConnectionString) { Pooling = false }.ConnectionString;
        await using var connection = new NpgsqlConnection(unpooled);
        await connection.OpenAsync(cancellation).ConfigureAwait(false);
        var answered = await AskAsync(connection, "SHOW data_directory", cancellation).ConfigureAwait(false);
        if (!string.Equals(answered, cluster.Path, StringComparison.Ordinal))
        {
            throw new EmbeddedPostgresException(
                $"The server at {socketFolder} keeps its data in {answered}, not in {cluster.Path}: it is not the one that was started.");
        }

        await MakeDatabaseAsync(connection, cancellation).ConfigureAwait(false);
        Log(string.Create(
            CultureInfo.InvariantCulture, $"PostgreSQL {MajorVersion} is ready on {cluster.Path} (process {ProcessId})."));
    }

    private static async Task MakeDatabaseAsync(NpgsqlConnection connection, CancellationToken cancellation)
    {
        const string role = ServerSettings.Role;
        const string database = ServerSettings.Database;
        if (await AskAsync(connection, $"SELECT 1 FROM pg_roles WHERE rolname = '{role}'", cancellation).ConfigureAwait(false) is null)
        {
            // May read all settings: the readiness check asks for those that say what a commit is worth.
            await DoAsync(connection, $"CREATE ROLE {role} LOGIN IN ROLE pg_read_all_settings", cancellation).ConfigureAwait(false);
        }

        if (await AskAsync(connection, $"SELECT 1 FROM pg_database WHERE datname = '{database}'", cancellation).ConfigureAwait(false) is null)
        {
            await DoAsync(connection, $"CREATE DATABASE {database} OWNER {role}", cancellation).ConfigureAwait(false);
        }
    }

    /// <summary>Starts the server again whenever it ends, until this object is disposed of.</summary>
    private async Task KeepRunningAsync()
    {
        var pause = TimeSpan.Zero;
        while (!stopping.IsCancellationRequested)
        {
            try
            {
                if (server is not null)
                {
                    await server.Ended.WaitAsync(stopping.Token).ConfigureAwait(false);
                    Log($"PostgreSQL on {cluster.Path} ended by itself and is started again.");
                    server.Stop();
                }

                await Task.Delay(pause, stopping.Token).ConfigureAwait(false);
                await ClusterProcesses.EndAsync(cluster.Path, options.StopTimeout, Log, stopping.Token).ConfigureAwait(false);
                await RunAsync(stopping.Token).ConfigureAwait(false);
                pause = TimeSpan.Zero;
            }
            catch (OperationCanceledException) when (stopping.IsCancellationRequested)
            {
                return;
            }
            catch (Exception e)
            {
                // A full disk, say: what can heal is tried again for as long as the service lives; its health tells.
                pause = pause == TimeSpan.Zero ? PauseMin : TimeSpan.FromTicks(Math.Min(pause.Ticks * 2, PauseMax.Ticks));
                Log($"PostgreSQL on {cluster.Path} could not be started again: {e.Message}");
            }
        }
    }

    private string Connection(string user, string database) => new NpgsqlConnectionStringBuilder
    {
        Host = socketFolder,
        Port = 5432,
        Username = user,
        Database = database,
    }.ConnectionString;

    private void Log(string message) => options.Log?.Invoke(message);

    private static async Task<object?> AskCoreAsync(NpgsqlConnection connection, string sql, CancellationToken cancellation)
    {
        await using var command = new NpgsqlCommand(sql, connection);
        return await command.ExecuteScalarAsync(cancellation).ConfigureAwait(false);
    }

    private static async Task<string?> AskAsync(NpgsqlConnection connection, string sql, CancellationToken cancellation) =>
        Convert.ToString(await AskCoreAsync(connection, sql, cancellation).ConfigureAwait(false), CultureInfo.InvariantCulture) is { Length: > 0 } text
            ? text
            : null;

    private static async Task DoAsync(NpgsqlConnection connection, string sql, CancellationToken cancellation)
    {
        await using var command = new NpgsqlCommand(sql, connection);
        await command.ExecuteNonQueryAsync(cancellation).ConfigureAwait(false);
    }

    /// <summary>Where the server runs and as whom.</summary>
    private sealed record Place(ClusterFolder Cluster, ServerAccount Account, FolderLock Owner, string SocketFolder);
}
