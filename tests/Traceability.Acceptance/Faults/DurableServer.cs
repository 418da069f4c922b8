using Npgsql;
using Traceability.Postgres;
using Traceability.Testing;

namespace Traceability.Acceptance.Faults;

/// <summary>A PostgreSQL server of a test's own, as durable as it gets, for several instances of the service.</summary>
internal sealed class DurableServer : IAsyncDisposable
{
    private readonly string folder;
    private readonly bool isOwnFolder;
    private EmbeddedPostgres server;

    private DurableServer(string folder, bool isOwnFolder, EmbeddedPostgres server)
    {
        this.folder = folder;
        this.isOwnFolder = isOwnFolder;
        this.server = server;
    }

    /// <summary>For the service's role.</summary>
    public string ConnectionString => server.ConnectionString;

    /// <summary>For the superuser, in the service's database.</summary>
    public string SuperuserConnectionString => new NpgsqlConnectionStringBuilder(server.SuperuserConnectionString) { Database = "traceability", Pooling = false }.ConnectionString;

    /// <summary>PostgreSQL's own folder.</summary>
    public string Cluster => server.DataDirectory;

    /// <summary>Starts one, which is started again whenever it dies.</summary>
    /// <param name="where">Where to keep it; null: a folder of its own.</param>
    /// <param name="settings">Further settings of the server.</param>
    public static async Task<DurableServer> StartAsync(string? where = null, Dictionary<string, string>? settings = null)
    {
        var kept = where ?? TestFolder.Make("traceability-server-");
        return new(kept, where is null, await RunAsync(kept, settings));
    }

    /// <summary>Stops it, lets something be done to its files, and starts it again.</summary>
    public async Task RestartAsync(Func<Task> between, Dictionary<string, string>? settings = null)
    {
        await server.DisposeAsync();
        await between();
        server = await RunAsync(folder, settings);
    }

    /// <inheritdoc />
    public async ValueTask DisposeAsync()
    {
        await server.DisposeAsync();
        if (isOwnFolder)
        {
            Directory.Delete(folder, recursive: true);
        }
    }

    private static Task<EmbeddedPostgres> RunAsync(string folder, Dictionary<string, string>? settings) =>
        EmbeddedPostgres.StartAsync(new() { DataFolder = folder, StopTimeout = TimeSpan.FromSeconds(20), Settings = settings ?? [] });
}
