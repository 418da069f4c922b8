using System.Diagnostics;
using Npgsql;
using Traceability.Postgres;
using Xunit;

namespace Traceability.Service.Tests.Postgres;

/// <summary>Start, stop, and what happens when the server or its owner is killed.</summary>
public sealed class LifeTests : ServerFixture
{
    [Fact]
    public async Task A_stopped_server_is_gone_and_its_data_is_there_at_the_next_start()
    {
        int first;
        await using (var server = await StartAsync(PostgresDurability.Full))
        {
            first = server.ProcessId;
            await AskAsync(server.ConnectionString, "CREATE TABLE kept AS SELECT 'glue' AS what");
        }

        Assert.False(Runs(first));
        Assert.False(File.Exists(Path.Combine(Folder, "cluster", "postmaster.pid")));
        Assert.False(Directory.Exists(Path.Combine(Folder, "socket")));

        await using var again = await StartAsync(PostgresDurability.Full);
        Assert.Equal("glue", await AskAsync(again.ConnectionString, "SELECT what FROM kept"));
        Assert.Equal("shut down", await StateBeforeStartAsync(again));
    }

    [Fact]
    public async Task A_killed_server_is_started_again_with_every_committed_row_on_the_same_connection_string()
    {
        await using var server = await StartAsync(PostgresDurability.Full);
        await AskAsync(server.ConnectionString, "CREATE TABLE kept AS SELECT 'glue' AS what");
        var killed = server.ProcessId;

        using (var postmaster = Process.GetProcessById(killed))
        {
            postmaster.Kill();
        }

        await WaitUntilAsync(() => server.ProcessId != killed, "no new server");
        Assert.Equal("glue", await AskWithPatienceAsync(server.ConnectionString, "SELECT what FROM kept"));
        Assert.False(Runs(killed));
    }

    [Theory]
    [InlineData(PostgresDurability.Full)]
    [InlineData(PostgresDurability.TestOnly)]
    public async Task The_server_ends_when_its_owner_is_killed(PostgresDurability durability)
    {
        await using var owner = await OwnerProcess.StartAsync(Folder, durability);
        Assert.True(Runs(owner.ServerId));

        await owner.KillAsync();

        await WaitUntilAsync(() => !Runs(owner.ServerId), "the server outlived its owner");
    }

    [Fact]
    public async Task A_start_right_after_the_owner_was_killed_waits_for_its_server_and_finds_every_committed_row()
    {
        await using var owner = await OwnerProcess.StartAsync(Folder, PostgresDurability.Full);
        await AskAsync(owner.ConnectionString, "CREATE TABLE kept AS SELECT generate_series(1, 50000) AS n");
        await owner.KillAsync();

        await using var next = await StartAsync(PostgresDurability.Full);

        Assert.Equal("50000", await AskAsync(next.ConnectionString, "SELECT count(*) FROM kept"));
        Assert.NotEqual(owner.ServerId, next.ProcessId);
        Assert.False(Runs(owner.ServerId));
        Assert.Equal("shut down", await StateBeforeStartAsync(next));
    }

    [Fact]
    public async Task A_start_after_owner_and_server_were_both_killed_recovers()
    {
        await using var owner = await OwnerProcess.StartAsync(Folder, PostgresDurability.Full);
        await AskAsync(owner.ConnectionString, "CREATE TABLE kept AS SELECT generate_series(1, 50000) AS n");
        using (var postmaster = Process.GetProcessById(owner.ServerId))
        {
            postmaster.Kill();
        }

        await owner.KillAsync();
        Assert.True(File.Exists(Path.Combine(Folder, "cluster", "postmaster.pid")));

        await using var next = await StartAsync(PostgresDurability.Full);

        Assert.Equal("50000", await AskAsync(next.ConnectionString, "SELECT count(*) FROM kept"));
    }

    [Fact]
    public async Task A_server_that_outlived_its_owner_is_shut_down_cleanly_before_the_next_start()
    {
        await using var owner = await OwnerProcess.StartAsync(Folder, PostgresDurability.Full);
        await AskAsync(owner.ConnectionString, "CREATE TABLE kept AS SELECT 'glue' AS what");
        await owner.KillWithKeeperAsync();
        Assert.Equal("glue", await AskAsync(owner.ConnectionString, "SELECT what FROM kept"));

        await using var next = await StartAsync(PostgresDurability.Full);

        Assert.False(Runs(owner.ServerId));
        Assert.Equal("glue", await AskAsync(next.ConnectionString, "SELECT what FROM kept"));
        Assert.Equal("shut down", await StateBeforeStartAsync(next));
    }

    [Fact]
    public async Task A_lock_file_that_names_a_process_of_somebody_else_hinders_no_start()
    {
        await using (await StartAsync())
        {
        }

        // The process id of the killed server was given to another process since: here, this one.
        var lockFile = Path.Combine(Folder, "cluster", "postmaster.pid");
        await File.WriteAllTextAsync(lockFile, $"{Environment.ProcessId}\n{Folder}/cluster\n1700000000\n5432\n\n\n\nready   \n");

        await using var server = await StartAsync();

        Assert.NotEqual(Environment.ProcessId, server.ProcessId);
        Assert.True(Runs(Environment.ProcessId));
        Assert.Equal("1", await AskAsync(server.ConnectionString, "SELECT 1"));
    }

    /// <summary>The control file's state at the last start, as the server's log tells it.</summary>
    private static async Task<string> StateBeforeStartAsync(EmbeddedPostgres server)
    {
        var log = await AskAsync(server.SuperuserConnectionString, "SELECT pg_read_file(pg_current_logfile())");
        var last = log!.Split('\n').Last(l => l.Contains("database system was", StringComparison.Ordinal)
            && !l.Contains("database system was not properly shut down", StringComparison.Ordinal));
        return last.Contains("was shut down at", StringComparison.Ordinal) ? "shut down" : last;
    }

    private static async Task<string?> AskWithPatienceAsync(string connectionString, string sql)
    {
        using var timeout = new CancellationTokenSource(Patience);
        while (true)
        {
            try
            {
                return await AskAsync(connectionString, sql);
            }
            catch (NpgsqlException) when (!timeout.IsCancellationRequested)
            {
                await Task.Delay(50, CancellationToken.None);
            }
        }
    }
}
