using System.Globalization;
using System.Security.Cryptography;
using Npgsql;

namespace Traceability.Testing;

/// <summary>
/// The PostgreSQL server of this test process, shared by its tests: the one that <see cref="ConnectionVariable"/> names,
/// else a container where an engine answers, else a private server that ends with the process.
/// </summary>
/// <remarks>Members may be used from any thread; test processes side by side have a server each, or share the named one.</remarks>
public static class PostgresServer
{
    /// <summary>Name of the environment variable with the connection string of a server to test on (a role that may create databases).</summary>
    public const string ConnectionVariable = "TRACEABILITY_TEST_POSTGRES";

    private static readonly Lazy<Task<ITestServer>> Shared = new(StartAsync);

    private static int databases;

    /// <summary>Makes an empty database of its own; dropped when disposed of.</summary>
    public static async Task<TestDatabase> CreateDatabaseAsync(CancellationToken cancellation = default)
    {
        var server = await Shared.Value.WaitAsync(cancellation);
        var name = string.Create(
            CultureInfo.InvariantCulture,
            $"test_{Environment.ProcessId}_{Interlocked.Increment(ref databases)}_{RandomNumberGenerator.GetHexString(8, lowercase: true)}");
        await using (var connection = new NpgsqlConnection(server.ConnectionString))
        {
            await connection.OpenAsync(cancellation);
            await server.RequireOursAsync(connection, cancellation);
            await using var command = new NpgsqlCommand($"CREATE DATABASE {name} TEMPLATE template0 ENCODING 'UTF8'", connection);
            await command.ExecuteNonQueryAsync(cancellation);
        }

        return new TestDatabase(server.ConnectionString, name);
    }

    private static async Task<ITestServer> StartAsync()
    {
        if (Environment.GetEnvironmentVariable(ConnectionVariable) is { Length: > 0 } named)
        {
            return new NamedTestServer(named);
        }

        if (await ContainerTestServer.TryStartAsync() is { } container)
        {
            return container;
        }

        var server = await PrivateTestServer.StartAsync();
        AppDomain.CurrentDomain.ProcessExit += (_, _) => server.StopAsync().GetAwaiter().GetResult();
        return server;
    }
}
