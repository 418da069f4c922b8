using System.Net;
using System.Text;
using Traceability.Service.Tests.Poison;
using Traceability.Testing;
using Xunit;

namespace Traceability.Service.Tests.Gaps;

/// <summary>The settings that durability hangs on can be changed under the running service.</summary>
public sealed class DurabilityTests
{
    [Theory]
    [InlineData("fsync", "off")]
    [InlineData("full_page_writes", "off")]
    [InlineData("synchronous_commit", "off")]
    [InlineData("synchronous_commit", "local")]
    public async Task A_setting_that_is_turned_off_while_the_service_runs_stops_acknowledging_until_it_is_back(string name, string value)
    {
        await using var server = await PlainServer.StartAsync();
        await using var host = await ServiceHost.StartOnAsync(await TestDatabase.CreateOnAsync(server), "--Postgres:AllowUnsafeDurability=false");
        Assert.Equal(HttpStatusCode.OK, await ReadyAsync(host));
        Assert.Equal(HttpStatusCode.Created, await PostAsync(host, 1));

        await server.ExecuteAsync($"alter system set {name} = '{value}'");
        await server.ExecuteAsync("select pg_reload_conf()");
        await LampShop.WithinAsync(async () => await ReadyAsync(host) == HttpStatusCode.ServiceUnavailable, "not ready");
        await LampShop.WithinAsync(async () => await PostAsync(host, 2) == HttpStatusCode.ServiceUnavailable, "refused");
        var alarms = await host.Quality.GetStringAsync("/api/alarms");
        Assert.Contains("durability-off", alarms, StringComparison.Ordinal);
        Assert.Contains(name.Replace('_', '-'), alarms, StringComparison.Ordinal);

        await server.ExecuteAsync($"alter system reset {name}");
        await server.ExecuteAsync("select pg_reload_conf()");
        await LampShop.WithinAsync(async () => await ReadyAsync(host) == HttpStatusCode.OK, "ready again");
        await LampShop.WithinAsync(async () => await PostAsync(host, 3) == HttpStatusCode.Created, "recorded again");
    }

    private static async Task<HttpStatusCode> ReadyAsync(ServiceHost host)
    {
        using var answer = await host.Anonymous.GetAsync("/health/ready");
        return answer.StatusCode;
    }

    private static async Task<HttpStatusCode> PostAsync(ServiceHost host, int number)
    {
        using var content = new StringContent(
            $$"""{"factId":"0b5f2c1e-0000-4000-8000-{{number:D12}}","type":"site-defined","occurredAt":"2026-03-02T09:00:00Z","site":"S{{number}}","description":"Works","timeZone":"Europe/Lisbon"}""",
            Encoding.UTF8,
            "application/json");
        using var answer = await host.Engineer.PostAsync("/api/facts", content);
        return answer.StatusCode;
    }
}
