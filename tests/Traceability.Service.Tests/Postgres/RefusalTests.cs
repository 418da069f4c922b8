using System.Globalization;
using Traceability.Postgres;
using Xunit;

namespace Traceability.Service.Tests.Postgres;

/// <summary>Data folders that are refused, untouched and with a reason.</summary>
public sealed class RefusalTests : ServerFixture
{
    [Fact]
    public async Task A_folder_of_another_major_version_is_refused_with_both_versions_and_what_to_do()
    {
        int installed;
        await using (var server = await StartAsync())
        {
            installed = server.MajorVersion;
        }

        var version = Path.Combine(Folder, "cluster", "PG_VERSION");
        await File.WriteAllTextAsync(version, "9\n");

        var refused = await Assert.ThrowsAsync<EmbeddedPostgresException>(() => StartAsync());

        Assert.Contains("made by PostgreSQL 9,", refused.Message, StringComparison.Ordinal);
        Assert.Contains(string.Create(CultureInfo.InvariantCulture, $"PostgreSQL {installed} is installed"), refused.Message, StringComparison.Ordinal);
        Assert.Contains("apt-get install postgresql-9", refused.Message, StringComparison.Ordinal);

        await File.WriteAllTextAsync(version, string.Create(CultureInfo.InvariantCulture, $"{installed}\n"));
        await using var unharmed = await StartAsync();
        Assert.Equal("1", await AskAsync(unharmed.ConnectionString, "SELECT 1"));
    }

    [Theory]
    [InlineData("letters.txt")]
    [InlineData(".hidden")]
    [InlineData("PG_VERSION")]
    [InlineData("cluster/letters.txt")]
    public async Task A_folder_with_something_else_in_it_is_refused_and_left_as_it_was(string name)
    {
        var file = Path.Combine(Folder, name);
        Directory.CreateDirectory(Path.GetDirectoryName(file)!);
        await File.WriteAllTextAsync(file, "mine");

        var refused = await Assert.ThrowsAsync<EmbeddedPostgresException>(() => StartAsync());

        Assert.Contains(Folder, refused.Message, StringComparison.Ordinal);
        Assert.Contains("another data folder", refused.Message.Replace("a new data folder", "another data folder", StringComparison.Ordinal), StringComparison.Ordinal);
        Assert.Equal("mine", await File.ReadAllTextAsync(file));
        Assert.Equal([file], Directory.GetFiles(Folder, "*", SearchOption.AllDirectories));
    }

    [Fact]
    public async Task A_second_owner_in_the_same_process_is_refused_while_the_first_goes_on()
    {
        await using var first = await StartAsync();

        var refused = await Assert.ThrowsAsync<EmbeddedPostgresException>(() => StartAsync());

        Assert.Contains("in use by process " + Environment.ProcessId.ToString(CultureInfo.InvariantCulture), refused.Message, StringComparison.Ordinal);
        Assert.Equal("1", await AskAsync(first.ConnectionString, "SELECT 1"));
    }

    [Fact]
    public async Task A_second_owner_in_another_process_is_refused_while_the_first_goes_on()
    {
        await using var first = await OwnerProcess.StartAsync(Folder, PostgresDurability.TestOnly);

        var refused = await Assert.ThrowsAsync<EmbeddedPostgresException>(() => StartAsync());

        Assert.Contains("in use by process", refused.Message, StringComparison.Ordinal);
        Assert.Equal("1", await AskAsync(first.ConnectionString, "SELECT 1"));
    }

    [Fact]
    public async Task A_folder_without_programs_is_refused()
    {
        var refused = await Assert.ThrowsAsync<EmbeddedPostgresException>(() => StartAsync(bin: "/usr/share"));

        Assert.Contains("no PostgreSQL in /usr/share", refused.Message, StringComparison.Ordinal);
    }

    [Fact]
    public async Task A_cluster_that_a_crash_left_half_made_is_made_anew()
    {
        var half = Path.Combine(Folder, "cluster.new");
        Directory.CreateDirectory(half);
        await File.WriteAllTextAsync(Path.Combine(half, "PG_VERSION"), "15\n");

        await using var server = await StartAsync();

        Assert.Equal("1", await AskAsync(server.ConnectionString, "SELECT 1"));
        Assert.False(Directory.Exists(half));
    }
}
