using Npgsql;
using Traceability.Postgres;
using Traceability.Testing;
using Xunit;

namespace Traceability.Service.Tests.Postgres;

/// <summary>Folder and small tools of the tests of the private server.</summary>
public abstract class ServerFixture : IDisposable
{
    /// <summary>How long anything may take before a test gives up; far above what it takes.</summary>
    protected static readonly TimeSpan Patience = TimeSpan.FromSeconds(60);

    protected string Folder { get; } = TestFolder.Make("traceability-server-");

    public void Dispose()
    {
        Dispose(disposing: true);
        GC.SuppressFinalize(this);
    }

    protected virtual void Dispose(bool disposing) => Directory.Delete(Folder, recursive: true);

    protected Task<EmbeddedPostgres> StartAsync(
        PostgresDurability durability = PostgresDurability.TestOnly, string? folder = null, string? bin = null) =>
        EmbeddedPostgres.StartAsync(new EmbeddedPostgresOptions
        {
            DataFolder = folder ?? Folder,
            Durability = durability,
            BinFolder = bin,
            StartTimeout = Patience,
            Settings = new Dictionary<string, string>(StringComparer.Ordinal) { ["shared_buffers"] = "16MB" },
        });

    /// <summary>Runs one statement on a connection of its own and gives the first value as text.</summary>
    protected static async Task<string?> AskAsync(string connectionString, string sql)
    {
        await using var connection = new NpgsqlConnection(
            new NpgsqlConnectionStringBuilder(connectionString) { Pooling = false }.ConnectionString);
        await connection.OpenAsync();
        await using var command = new NpgsqlCommand(sql, connection);
        return (await command.ExecuteScalarAsync())?.ToString();
    }

    /// <summary>Whether a process runs; one that has ended but that its parent has not asked after ("Z") does not.</summary>
    protected static bool Runs(int processId)
    {
        try
        {
            return !File.ReadLines($"/proc/{processId}/status").Any(l => l.StartsWith("State:\tZ", StringComparison.Ordinal));
        }
        catch (IOException)
        {
            // No such process, or it went while we read.
            return false;
        }
    }

    protected static async Task WaitUntilAsync(Func<bool> reached, string what)
    {
        using var timeout = new CancellationTokenSource(Patience);
        while (!reached())
        {
            Assert.False(timeout.IsCancellationRequested, what);
            await Task.Delay(20, CancellationToken.None);
        }
    }
}
