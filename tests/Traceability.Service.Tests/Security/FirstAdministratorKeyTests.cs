using System.Globalization;
using System.Security.Cryptography;
using Microsoft.Extensions.DependencyInjection;
using Traceability.Service.Security;
using Traceability.Testing;
using Xunit;

namespace Traceability.Service.Tests.Security;

public sealed class FirstAdministratorKeyTests(ServiceFixture fixture) : IClassFixture<ServiceFixture>
{
    [Fact]
    public void The_file_is_readable_by_its_owner_only()
    {
        if (OperatingSystem.IsWindows())
        {
            return;
        }

        Assert.Equal(UnixFileMode.UserRead | UnixFileMode.UserWrite, File.GetUnixFileMode(Path.Combine(fixture.Host.DataFolder, "administrator-key")));
        Assert.False(File.Exists(Path.Combine(fixture.Host.DataFolder, "administrator-key.new")));
    }

    [Fact]
    public async Task It_is_made_once_and_a_restart_makes_no_other()
    {
        await using var host = await ServiceHost.StartAsync();
        var key = host.AdministratorKey;

        await host.RestartAsync();

        Assert.Equal(key, host.AdministratorKey);
        (await host.Admin.GetAsync("/api/keys")).EnsureSuccessStatusCode();
        await using var command = host.Database.CreateCommand("select count(*) from traceability.access_key where role = 'admin'");
        Assert.Equal(1L, await command.ExecuteScalarAsync());
    }

    [Fact]
    public async Task Starts_at_the_same_time_make_one()
    {
        await using var host = await ServiceHost.StartAsync();
        await ForgetAdministratorsAsync(host);
        var folder = Directory.CreateTempSubdirectory("traceability-key-").FullName;

        var made = await Task.WhenAll(Enumerable.Range(0, 8).Select(_ => First(host).EnsureAsync(folder, TextWriter.Null, CancellationToken.None)));

        Assert.Equal(1, made.Count(m => m));
        using var client = host.ClientWith((await File.ReadAllTextAsync(Path.Combine(folder, "administrator-key"))).Trim());
        (await client.GetAsync("/api/keys")).EnsureSuccessStatusCode();
        Directory.Delete(folder, recursive: true);
    }

    [Fact]
    public async Task A_file_that_cannot_be_written_is_said_and_the_key_is_shown_still()
    {
        await using var host = await ServiceHost.StartAsync();
        await ForgetAdministratorsAsync(host);
        var occupied = Path.GetTempFileName();
        using var console = new StringWriter(CultureInfo.InvariantCulture);

        Assert.True(await First(host).EnsureAsync(Path.Combine(occupied, "data"), console, CancellationToken.None));

        Assert.Contains("could NOT be written", console.ToString(), StringComparison.Ordinal);
        var key = console.ToString().Split('\n').Select(l => l.Trim()).Single(l => l.StartsWith("trc_", StringComparison.Ordinal));
        using var client = host.ClientWith(key);
        (await client.GetAsync("/api/keys")).EnsureSuccessStatusCode();
        File.Delete(occupied);
    }

    private static FirstAdministratorKey First(ServiceHost host) =>
        new(host.Database, host.App.Services.GetRequiredService<RandomNumberGenerator>(), TimeProvider.System);

    private static async Task ForgetAdministratorsAsync(ServiceHost host)
    {
        await using var command = host.Database.CreateCommand("update traceability.access_key set revoked_at = now() where role = 'admin'");
        await command.ExecuteNonQueryAsync();
    }
}
