using Microsoft.Extensions.DependencyInjection;
using Microsoft.Extensions.Hosting;
using Microsoft.Extensions.Logging.Abstractions;
using Npgsql;
using Traceability.Service.Ingest;
using Traceability.Service.Storage.Workers;
using Traceability.Service.Telemetry;
using Traceability.Service.Tests.Poison;
using Traceability.Testing;
using Xunit;

namespace Traceability.Service.Tests.Gaps;

/// <summary>Background workers with several instances, stuck ones, and transactions that nobody ends.</summary>
public sealed class WorkerTests
{
    [Fact]
    public async Task One_instance_holds_a_lease_and_another_takes_over_when_it_is_given_back_or_runs_out()
    {
        await using var host = await ServiceHost.StartAsync();
        var first = new WorkerLease(host.Database, TimeProvider.System);
        var second = new WorkerLease(host.Database, TimeProvider.System);

        Assert.True(await first.HoldsAsync("work", default));
        Assert.False(await second.HoldsAsync("work", default));
        await first.TryReleaseAsync("work", NullLogger.Instance);
        Assert.True(await second.HoldsAsync("work", default));
        Assert.False(await first.HoldsAsync("work", default));

        // The second one is gone without a word, as after a crash or while it is paused.
        var clock = System.Diagnostics.Stopwatch.StartNew();
        await LampShop.WithinAsync(() => first.HoldsAsync("work", default), "taken over");
        Assert.InRange(clock.Elapsed, WorkerLease.Length / 3, WorkerLease.Length + TimeSpan.FromSeconds(3));
        Assert.False(await second.HoldsAsync("work", default) && await first.HoldsAsync("work", default));
    }

    [Fact]
    public async Task Many_that_ask_at_once_elect_one()
    {
        await using var host = await ServiceHost.StartAsync();
        var leases = Enumerable.Range(0, 12).Select(_ => new WorkerLease(host.Database, TimeProvider.System)).ToArray();

        var held = await Task.WhenAll(leases.Select(l => l.HoldsAsync("work", default)));

        Assert.Single(held, h => h);
    }

    [Fact]
    public async Task Units_are_judged_again_by_the_other_instance_when_the_one_that_did_it_is_gone()
    {
        await using var shop = await LampShop.StartAsync();
        await shop.BuildAsync("0001", "G1");
        await using var other = await ServiceHost.StartBesideAsync(shop.Host, "--EventCheck:Pause=00:00:00.2");
        await shop.SettledAsync();

        // The holder stops renewing, as when it is killed: its row stays until it runs out.
        await shop.Host.App.Services.GetServices<IHostedService>().OfType<RejudgeWorker>().Single().StopAsync(CancellationToken.None);
        await shop.ExecuteAsync("insert into traceability.worker_lease values ($1, $2, clock_timestamp() + interval '6 seconds') on conflict (name) do update set holder = excluded.holder, until = excluded.until", RejudgeWorker.Name, Guid.Empty);
        await shop.PostAsync("""{"type":"lot-quarantined","occurredAt":"2026-03-02T09:01:00Z","lot":{"item":"TOUR-GLUE","lot":"G1"},"reason":"Cloudy"}""");

        await shop.SettledAsync();
        Assert.True(await shop.ScalarAsync<bool>("select exists (select from traceability.finding where kind = 'lot-not-released')"));
    }

    [Fact]
    public async Task A_worker_that_does_not_come_round_fails_readiness_and_raises_an_alarm()
    {
        var clock = new MovableClock();
        var pulse = new WorkerPulse(clock);
        pulse.Beat("rejudge-worker");
        pulse.Beat("yield-folder");
        clock.Move(TimeSpan.FromSeconds(20));
        Assert.Empty(pulse.Stuck());
        pulse.Beat("yield-folder");
        clock.Move(TimeSpan.FromSeconds(6));

        Assert.Equal("rejudge-worker", Assert.Single(pulse.Stuck()).Worker);
        Assert.InRange(WorkerPulse.StuckAfter, TimeSpan.Zero, TimeSpan.FromSeconds(30));
        pulse.End("rejudge-worker");
        Assert.Empty(pulse.Stuck());

        await using var host = await ServiceHost.StartAsync();
        var names = (await host.App.Services.GetRequiredService<Readiness>().LookAsync(default)).Checks.Select(c => c.Name).ToArray();
        Assert.All([RejudgeWorker.Name, Storage.Checking.EventCheck.Name, Features.Yield.YieldFolder.Name], n => Assert.Contains(n, names, StringComparer.Ordinal));
    }

    [Fact]
    public async Task A_transaction_that_somebody_leaves_open_is_told_and_one_of_the_service_is_ended_by_the_database()
    {
        await using var host = await ServiceHost.StartAsync();
        await using var open = new NpgsqlConnection(host.ConnectionString);
        await open.OpenAsync();
        await using var transaction = await open.BeginTransactionAsync();
        await using (var command = new NpgsqlCommand("insert into traceability.step_yield_change (item, variant, revision, step, station, day, first_attempts, first_passed, attempts, reworks, retests, defects, opportunities) values ('X', '', 'A', 'S', '', '2026-03-02', 1, 1, 1, 0, 0, 0, 0)", open, transaction))
        {
            await command.ExecuteNonQueryAsync();
        }

        // Ours, from the service's own pool: the database ends it.
        await using var ours = await host.Database.OpenConnectionAsync();
        await using var left = await ours.BeginTransactionAsync();
        await using (var command = new NpgsqlCommand("select 1", ours, left))
        {
            await command.ExecuteScalarAsync();
        }

        var clock = System.Diagnostics.Stopwatch.StartNew();
        await LampShop.WithinAsync(async () => (await host.Quality.GetStringAsync("/api/alarms")).Contains("transaction-idle", StringComparison.Ordinal), "alarm");
        Assert.True(clock.Elapsed > TimeSpan.FromSeconds(15));
        await LampShop.WithinAsync(
            async () =>
            {
                await using var look = host.Database.CreateCommand("select count(*) from pg_stat_activity where datname = current_database() and application_name = 'traceability' and state = 'idle in transaction'");
                return (long)(await look.ExecuteScalarAsync())! == 0;
            },
            "the service's own transaction ended");

        // What the open transaction holds back belongs to it alone: no mark stands still, and what others write is counted.
        await using var sum = host.Database.CreateCommand("select count(*) from traceability.step_yield_change");
        Assert.Equal(0L, await sum.ExecuteScalarAsync());
        await transaction.CommitAsync();
        await LampShop.WithinAsync(
            async () =>
            {
                await using var look = host.Database.CreateCommand("select count(*) from traceability.step_yield_day where item = 'X'");
                return (long)(await look.ExecuteScalarAsync())! == 1;
            },
            "the late change is folded");
    }

    private sealed class MovableClock : TimeProvider
    {
        private DateTimeOffset _now = new(2026, 3, 2, 12, 0, 0, TimeSpan.Zero);

        public override long TimestampFrequency => TimeSpan.TicksPerSecond;

        public override long GetTimestamp() => _now.Ticks;

        public override DateTimeOffset GetUtcNow() => _now;

        public void Move(TimeSpan by) => _now += by;
    }
}
