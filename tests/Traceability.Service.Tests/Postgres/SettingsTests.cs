using System.Globalization;
using Traceability.Postgres;
using Traceability.Testing;
using Xunit;

namespace Traceability.Service.Tests.Postgres;

/// <summary>What the server promises, who may reach it, and what its role may do.</summary>
public sealed class SettingsTests : ServerFixture
{
    private const UnixFileMode OwnerOnly = UnixFileMode.UserRead | UnixFileMode.UserWrite | UnixFileMode.UserExecute;

    [Theory]
    [InlineData(PostgresDurability.Full, "on")]
    [InlineData(PostgresDurability.TestOnly, "off")]
    public async Task A_commit_is_forced_to_the_disk_unless_it_is_a_tests(PostgresDurability durability, string expected)
    {
        await using var server = await StartAsync(durability);

        foreach (var setting in new[] { "fsync", "synchronous_commit", "full_page_writes" })
        {
            Assert.Equal(expected, await AskAsync(server.ConnectionString, $"SHOW {setting}"));
        }

        Assert.Equal("on", await AskAsync(server.ConnectionString, "SHOW data_checksums"));
        Assert.Equal("UTF8", await AskAsync(server.ConnectionString, "SHOW server_encoding"));
    }

    [Fact]
    public async Task No_setting_of_the_caller_weakens_a_commit_or_opens_a_port()
    {
        await using var server = await EmbeddedPostgres.StartAsync(new EmbeddedPostgresOptions
        {
            DataFolder = Folder,
            Settings = new Dictionary<string, string>(StringComparer.Ordinal)
            {
                ["fsync"] = "off",
                ["listen_addresses"] = "127.0.0.1",
                ["work_mem"] = "7MB",
            },
        });

        Assert.Equal("on", await AskAsync(server.ConnectionString, "SHOW fsync"));
        Assert.Equal("", await AskAsync(server.ConnectionString, "SHOW listen_addresses"));
        Assert.Equal("7MB", await AskAsync(server.ConnectionString, "SHOW work_mem"));
    }

    [Fact]
    public async Task Other_users_can_enter_neither_the_cluster_nor_the_sockets_folder()
    {
        await using var server = await StartAsync();

        Assert.Equal(OwnerOnly, ModeOf(server.DataDirectory));
        var socket = await AskAsync(server.ConnectionString, "SHOW unix_socket_directories");
        Assert.Equal(OwnerOnly, ModeOf(socket!.Trim('"')));
    }

    [Fact]
    public async Task The_services_role_owns_its_database_and_is_no_superuser()
    {
        await using var server = await StartAsync();

        Assert.Equal("False", await AskAsync(server.ConnectionString, "SELECT rolsuper FROM pg_roles WHERE rolname = current_user"));
        Assert.Equal("traceability", await AskAsync(
            server.ConnectionString, "SELECT pg_get_userbyid(datdba) FROM pg_database WHERE datname = current_database()"));
        Assert.Equal(server.DataDirectory, await AskAsync(server.ConnectionString, "SHOW data_directory"));
    }

    [Theory]
    [InlineData(1)]
    [InlineData(90)]
    public async Task A_long_or_odd_path_still_gives_a_socket_that_works(int repeats)
    {
        var folder = Path.Combine(Folder, "a 'b\" " + string.Concat(Enumerable.Repeat("é", repeats)));

        await using var server = await StartAsync(folder: folder);

        Assert.Equal("1", await AskAsync(server.ConnectionString, "SELECT 1"));
        var socket = await AskAsync(server.ConnectionString, "SHOW unix_socket_directories");
        Assert.Equal(repeats > 1, !socket!.Contains(Folder, StringComparison.Ordinal));
    }

    [Fact]
    public async Task Each_test_gets_an_empty_database_of_its_own()
    {
        await using var one = await PostgresServer.CreateDatabaseAsync();
        await using var other = await PostgresServer.CreateDatabaseAsync();

        await AskAsync(one.ConnectionString, "CREATE TABLE only_here ()");

        Assert.Equal("0", await AskAsync(other.ConnectionString, "SELECT count(*) FROM pg_tables WHERE schemaname = 'public'"));
        Assert.Equal("1", await AskAsync(one.ConnectionString, "SELECT count(*) FROM pg_tables WHERE schemaname = 'public'"));
    }

    [Fact]
    public async Task A_disposed_test_database_is_gone()
    {
        await using var other = await PostgresServer.CreateDatabaseAsync();
        string name;
        await using (var one = await PostgresServer.CreateDatabaseAsync())
        {
            name = one.Name;
        }

        Assert.Equal("0", await AskAsync(
            other.ConnectionString, string.Create(CultureInfo.InvariantCulture, $"SELECT count(*) FROM pg_database WHERE datname = '{name}'")));
    }

    private static UnixFileMode ModeOf(string path) =>
        OperatingSystem.IsWindows() ? throw new PlatformNotSupportedException() : File.GetUnixFileMode(path);
}
