using System.Net;
using System.Text.Json;
using Microsoft.Extensions.Configuration;
using Microsoft.Extensions.DependencyInjection;
using Microsoft.Extensions.Logging.Abstractions;
using Microsoft.Extensions.Options;
using Npgsql;
using Traceability.Service.Storage;
using Traceability.Service.Storage.Workers;
using Traceability.Service.Telemetry;
using Traceability.Testing;
using Xunit;

namespace Traceability.Service.Tests.Telemetry;

public sealed class HealthTests(ServiceFixture fixture) : IClassFixture<ServiceFixture>
{
    private static readonly DurabilitySettings Safe = new("on", "on", "on", "on");

    [Fact]
    public async Task A_started_service_lives_and_is_ready_and_says_what_it_looked_at()
    {
        using var live = await fixture.Host.Anonymous.GetAsync("/health/live");
        using var ready = await fixture.Host.Anonymous.GetAsync("/health/ready");

        Assert.Equal(HttpStatusCode.OK, live.StatusCode);
        Assert.Equal(HttpStatusCode.OK, ready.StatusCode);
        using var report = JsonDocument.Parse(await ready.Content.ReadAsStringAsync());
        Assert.Equal("ready", report.RootElement.GetProperty("status").GetString());
        var names = report.RootElement.GetProperty("checks").EnumerateArray().Select(c => c.GetProperty("name").GetString()).ToArray();
        string[] expected = ["database", "fsync", "synchronous-commit", "full-page-writes", "data-checksums", "migrations", "group-committer", "rejudge-worker"];
        Assert.All(expected, name => Assert.Contains(name, names, StringComparer.Ordinal));
    }

    [Fact]
    public async Task A_service_without_the_accepted_risk_is_not_ready_on_a_server_that_may_lose_facts()
    {
        await using var host = await ServiceHost.StartAsync("--Postgres:AllowUnsafeDurability=false");

        using var ready = await host.Anonymous.GetAsync("/health/ready");

        await using var command = host.Database.CreateCommand("select current_setting('fsync') = 'on' and current_setting('synchronous_commit') in ('on', 'remote_apply') and current_setting('full_page_writes') = 'on'");
        var isSafe = (bool)(await command.ExecuteScalarAsync())!;
        Assert.Equal(isSafe ? HttpStatusCode.OK : HttpStatusCode.ServiceUnavailable, ready.StatusCode);
    }

    [Theory]
    [InlineData("fsync")]
    [InlineData("synchronous-commit")]
    [InlineData("full-page-writes")]
    public void A_setting_that_can_lose_acknowledged_facts_fails(string name)
    {
        var settings = name switch
        {
            "fsync" => Safe with { Fsync = "off" },
            "synchronous-commit" => Safe with { SynchronousCommit = "off" },
            _ => Safe with { FullPageWrites = "off" },
        };

        Assert.Equal(HealthStatus.Fail, settings.Judge(isPrivate: false, isUnsafeAllowed: false).Single(c => c.Status != HealthStatus.Pass).Status);
        Assert.Equal(name, settings.Judge(isPrivate: false, isUnsafeAllowed: false).Single(c => c.Status != HealthStatus.Pass).Name);
        Assert.Equal(HealthStatus.Warn, settings.Judge(isPrivate: false, isUnsafeAllowed: true).Single(c => c.Status != HealthStatus.Pass).Status);
    }

    [Theory]
    [InlineData("on", true)]
    [InlineData("remote_apply", true)]
    [InlineData("remote_write", false)]
    [InlineData("local", false)]
    [InlineData("off", false)]
    public void A_commit_is_waited_for_as_strongly_as_the_server_can(string value, bool isRight) =>
        Assert.Equal(isRight, (Safe with { SynchronousCommit = value }).Judge(isPrivate: true, isUnsafeAllowed: false).All(c => c.Status == HealthStatus.Pass));

    [Theory]
    [InlineData(true, "fail")]
    [InlineData(false, "warn")]
    public void Checksums_are_required_of_the_private_server_and_wished_for_on_another(bool isPrivate, string status) =>
        Assert.Equal(
            Enum.Parse<HealthStatus>(status, ignoreCase: true),
            (Safe with { DataChecksums = "off" }).Judge(isPrivate, isUnsafeAllowed: false).Single(c => c.Name == "data-checksums").Status);

    [Fact]
    public async Task A_database_that_is_gone_fails_readiness_and_no_answer_tells_where_it_is()
    {
        await using var nowhere = NpgsqlDataSource.Create("Host=127.0.0.1;Port=1;Username=somebody;Password=hidden;Database=secret-name;Timeout=2");
        using var readiness = new Readiness(
            nowhere,
            new ServiceCollection().BuildServiceProvider(),
            new ConfigurationBuilder().Build(),
            Options.Create(new StorageOptions()),
            new WorkerPulse(TimeProvider.System),
            new StoreTrouble(TimeProvider.System),
            TimeProvider.System,
            NullLogger<Readiness>.Instance);

        var report = await readiness.LookAsync(CancellationToken.None);

        Assert.False(report.IsReady);
        Assert.Equal(HealthStatus.Fail, Assert.Single(report.Checks).Status);
        Assert.DoesNotContain("127.0.0.1", report.Checks[0].Detail, StringComparison.Ordinal);
        Assert.DoesNotContain("secret-name", report.Checks[0].Detail, StringComparison.Ordinal);
    }

    [Fact]
    public async Task A_missing_migration_fails_readiness()
    {
        await using var host = await ServiceHost.StartAsync();
        await using var command = host.Database.CreateCommand("delete from traceability.migration where number = 2");
        await command.ExecuteNonQueryAsync();

        using var ready = await host.Anonymous.GetAsync("/health/ready");

        Assert.Equal(HttpStatusCode.ServiceUnavailable, ready.StatusCode);
        Assert.Contains("0002-access.sql", await ready.Content.ReadAsStringAsync(), StringComparison.Ordinal);
    }

    [Fact]
    public async Task Metrics_are_in_the_text_format_and_hold_ours_and_the_database_pools_without_its_address()
    {
        (await fixture.Host.Admin.GetAsync("/api/keys")).EnsureSuccessStatusCode();

        var text = await fixture.Host.Quality.GetStringAsync("/metrics");

        Assert.Contains("# TYPE http_server_request_duration_seconds histogram", text, StringComparison.Ordinal);
        Assert.Contains("db_client_connection", text, StringComparison.Ordinal);
        Assert.Contains("dotnet_", text, StringComparison.Ordinal);

        // The pools of the tests themselves are in it too, under their connection strings; the service's own has a name.
        Assert.Contains("connection_pool_name=\"traceability\"", text, StringComparison.Ordinal);
        Assert.DoesNotContain("Password", text, StringComparison.OrdinalIgnoreCase);
        Assert.Equal(HttpStatusCode.Unauthorized, (await fixture.Host.Anonymous.GetAsync("/metrics")).StatusCode);
    }
}
