using Microsoft.Extensions.DependencyInjection;
using Npgsql;
using Traceability.Service.Features.Yield;
using Traceability.Service.Ingest;
using Traceability.Service.Telemetry.Alarms;
using Traceability.Service.Tests.Poison;
using Traceability.Testing;
using Traceability.Testing.Building;
using Xunit;

namespace Traceability.Service.Tests.Gaps;

/// <summary>Queues that nobody works off are told.</summary>
public sealed class QueueAlarmTests
{
    [Fact]
    public async Task Yield_differences_that_stay_the_oldest_for_a_minute_raise_an_alarm()
    {
        await using var host = await ServiceHost.StartAsync("--Yield:FoldPause=00:01:00");
        await using var connection = new NpgsqlConnection(host.ConnectionString);
        await connection.OpenAsync();
        var alarm = new YieldQueueAlarm();
        Assert.Empty(await alarm.LookAsync(connection, Some.Noon, default));
        await using var insert = new NpgsqlCommand("insert into traceability.unit_yield_change (item, variant, revision, day, ended, passed, scrapped) values ('X', '', 'A', '2026-03-02', 1, 1, 0)", connection);
        await insert.ExecuteNonQueryAsync();

        Assert.Empty(await alarm.LookAsync(connection, Some.At(1), default));
        Assert.Empty(await alarm.LookAsync(connection, Some.At(1.9), default));
        var trouble = Assert.Single(await alarm.LookAsync(connection, Some.At(2.1), default));
        Assert.Equal(("yield-queue-old", Some.At(1)), (trouble.Kind, trouble.Since));

        await using var delete = new NpgsqlCommand("delete from traceability.unit_yield_change", connection);
        await delete.ExecuteNonQueryAsync();
        Assert.Empty(await alarm.LookAsync(connection, Some.At(9), default));
    }

    [Fact]
    public async Task Units_that_nobody_judges_again_raise_an_alarm_and_answers_say_that_they_are_behind()
    {
        await using var shop = await LampShop.StartAsync();
        await shop.BuildAsync("0001", "G1");

        // Somebody else holds the work and does not do it.
        await shop.ExecuteAsync("insert into traceability.worker_lease values ($1, $2, 'infinity') on conflict (name) do update set holder = excluded.holder, until = excluded.until", RejudgeWorker.Name, Guid.Empty);
        await Task.Delay(TimeSpan.FromSeconds(3));
        await shop.ExecuteAsync("insert into traceability.rejudge (unit, asked_at) values ('TOUR-LAMP/0001', now() - interval '2 minutes')");

        await shop.AlarmComesAsync("rejudge-queue-old");
        Assert.All(await shop.ListsAsync(), a => Assert.Equal((false, 1), (a.Value.GetProperty("isComplete").GetBoolean(), a.Value.GetProperty("rejudgementsPending").GetInt32())));
        Assert.Equal(1L, shop.Host.App.Services.GetRequiredService<AlarmWatch>().Standing.Single(a => a.Kind == "rejudge-queue-old").Count);
        await shop.ExecuteAsync("delete from traceability.worker_lease where holder = $1", Guid.Empty);
        await shop.SettledAsync();
        await shop.AlarmGoesAsync("rejudge-queue-old");
    }
}
