using System.Net;
using Traceability.Service.Tests.Poison;
using Traceability.Testing;
using Xunit;

namespace Traceability.Service.Tests.Upgrades;

/// <summary>An older and a newer version of the service side by side over one database.</summary>
/// <remarks>
/// The newer one is this program, too: what it would do that this one can't is done past it. It has migrated the database by an
/// additive step, and it stores a form of event that the older one does not know; the older one being gone, that form gets the name
/// under which this program reads it.
/// </remarks>
public sealed class RollingUpgradeTests
{
    private const string Lamp1 = "unit/TOUR-LAMP/0001";

    [Fact]
    public async Task The_older_version_serves_on_with_what_it_does_not_know_as_unknown_and_the_newer_one_knows_it_when_it_is_alone()
    {
        await using var shop = await LampShop.StartAsync();
        await shop.BuildAsync("0001", "G1");
        await shop.BuildAsync("0002", "G2");

        // The newer version comes: expand first.
        await shop.ExecuteAsync("create table traceability.later (one integer)");
        await shop.ExecuteAsync("alter table traceability.unit add column later text not null default ''");
        await shop.ExecuteAsync("insert into traceability.migration (number, name, checksum, is_compatible) values (9000, '9000-later.sql', 'x', true)");
        await shop.AlarmComesAsync("schema-newer");
        Assert.Equal(HttpStatusCode.OK, await ReadyAsync(shop.Host));

        // It stores what the older one does not know, about a unit and about a lot; the older one goes on recording about both.
        await shop.StoreAsync(Lamp1, "step_completed_v2", """{"occurredAt":"2026-03-02T09:40:00Z","startedAt":"2026-03-02T09:39:00Z","station":"TOUR-1","person":"TOUR-P1","unit":{"item":"TOUR-LAMP","serial":"0001"},"step":"CLOSE","isRework":false,"tools":[{"tool":"TOUR-SD1","setting":"4"}],"measurements":[{"characteristic":"GAP","value":0.12,"unit":"mm"}]}""");
        await shop.StoreAsync("lot/TOUR-GLUE/G2", "lot_quarantined_v2", """{"occurredAt":"2026-03-02T09:01:00Z","lot":{"item":"TOUR-GLUE","lot":"G2"},"reason":"Cloudy"}""");
        await LampShop.WithinAsync(async () => await shop.ScalarAsync<long>("select count(*) from traceability.unreadable_event") == 2, "both noted");
        await shop.SettledAsync();
        Assert.True(await HasUnreadableAsync(shop, "0001"));
        Assert.True(await HasUnreadableAsync(shop, "0002"));
        await shop.PostAsync("""{"type":"unit-held","occurredAt":"2026-03-02T09:50:00Z","station":"TOUR-1","unit":{"item":"TOUR-LAMP","serial":"0001"},"reason":"Look at it"}""");
        await shop.PostAsync("""{"type":"container-opened","occurredAt":"2026-03-02T09:02:00Z","lot":{"item":"TOUR-GLUE","lot":"G2"},"container":"T1"}""");
        await shop.BuildAsync("0003", "G1");
        Assert.Equal(4L, await shop.ScalarAsync<long>($"select version from events.mt_streams where id = '{Lamp1}'"));
        Assert.Equal(4L, await shop.ScalarAsync<long>($"select count(distinct version) from events.mt_events where stream_id = '{Lamp1}'"));
        Assert.True(await HasUnreadableAsync(shop, "0001"));

        // The older one goes, the newer one is alone.
        await shop.ExecuteAsync("update events.mt_events set type = replace(type, '_v2', '') where type like '%\\_v2'");
        await shop.Host.RestartAsync("--EventCheck:Pause=00:00:00.2");
        await shop.AlarmGoesAsync("events-unreadable");
        await shop.SettledAsync();

        Assert.False(await HasUnreadableAsync(shop, "0001"));
        Assert.False(await HasUnreadableAsync(shop, "0002"));
        Assert.False(await shop.ScalarAsync<bool>("select bool_or(has_unreadable) from traceability.unit"));
        Assert.Equal(1L, await shop.ScalarAsync<long>("select count(*) from traceability.step_result where unit = 'TOUR-LAMP/0001' and step = 'CLOSE'"));
        Assert.Equal(1L, await shop.ScalarAsync<long>("select count(*) from traceability.finding where unit = 'TOUR-LAMP/0002' and kind = 'lot-not-released'"));
        Assert.All(await shop.ListsAsync(), a => Assert.True(a.Value.GetProperty("isComplete").GetBoolean(), a.Key));
    }

    [Fact]
    public async Task A_form_that_the_running_version_cannot_work_with_closes_the_way_in_and_an_older_mark_is_taken_off_by_one_that_can_read()
    {
        await using var shop = await LampShop.StartAsync();
        await shop.BuildAsync("0001", "G1");

        // An older version marked the unit when it judged it last, and its note is gone already.
        await shop.ExecuteAsync("update traceability.unit set has_unreadable = true where serial = '0001'");
        await LampShop.WithinAsync(async () => !await shop.ScalarAsync<bool>("select has_unreadable from traceability.unit where serial = '0001'"), "mark taken off");

        await shop.ExecuteAsync("insert into traceability.migration (number, name, checksum, is_compatible) values (9000, '9000-contract.sql', 'x', false)");
        await LampShop.WithinAsync(async () => await ReadyAsync(shop.Host) == HttpStatusCode.ServiceUnavailable, "not ready");
        await shop.AlarmComesAsync("schema-unusable");
        Assert.Equal(HttpStatusCode.ServiceUnavailable, await shop.TryPostAsync("""{"type":"unit-held","occurredAt":"2026-03-02T09:50:00Z","station":"TOUR-1","unit":{"item":"TOUR-LAMP","serial":"0001"},"reason":"x"}"""));
        Assert.Equal("0001", (await shop.AskAsync("units/TOUR-LAMP/0001")).GetProperty("unit").GetProperty("serial").GetString());
    }

    private static async Task<bool> HasUnreadableAsync(LampShop shop, string serial) =>
        (await shop.AskAsync($"units/TOUR-LAMP/{serial}")).GetProperty("unit").GetProperty("hasUnreadable").GetBoolean();

    private static async Task<HttpStatusCode> ReadyAsync(ServiceHost host)
    {
        using var answer = await host.Anonymous.GetAsync("/health/ready");
        return answer.StatusCode;
    }
}
