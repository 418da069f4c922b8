using Npgsql;

namespace Traceability.Testing;

/// <summary>One test's database.</summary>
public sealed class TestDatabase : IAsyncDisposable
{
    private readonly string serverConnection;

    /// <summary>Makes an empty database on a server of the test's own.</summary>
    public static async Task<TestDatabase> CreateOnAsync(PlainServer server)
    {
        ArgumentNullException.ThrowIfNull(server);
        await server.ExecuteAsync("create database traceability encoding 'UTF8' template template0");
        return new(server.ConnectionString, "traceability");
    }

    internal TestDatabase(string serverConnection, string name)
    {
        this.serverConnection = serverConnection;
        Name = name;
        ConnectionString = new NpgsqlConnectionStringBuilder(serverConnection)
        {
            Database = name,
            IncludeErrorDetail = true,
            MaxPoolSize = 30,
        }.ConnectionString;
    }

    /// <summary>Gets the database's name, unique among test processes.</summary>
    public string Name { get; }

    /// <summary>Gets the connection string of this database; its role may do everything in it.</summary>
    public string ConnectionString { get; }

    /// <summary>Drops the database. A server that is gone is said on standard error and fails no test.</summary>
    public async ValueTask DisposeAsync()
    {
        try
        {
            await using (var pooled = new NpgsqlConnection(ConnectionString))
            {
                NpgsqlConnection.ClearPool(pooled);
            }

            await using var connection = new NpgsqlConnection(serverConnection);
            await connection.OpenAsync();
            await using var command = new NpgsqlCommand($"DROP DATABASE IF EXISTS {Name} WITH (FORCE)", connection);
            await command.ExecuteNonQueryAsync();
        }
        catch (NpgsqlException e)
        {
            await Console.Error.WriteLineAsync($"The test database {Name} was not dropped: {e.Message}");
        }
    }
}
