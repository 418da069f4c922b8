using System.Diagnostics;
using System.Globalization;
using Traceability.Acceptance.Robustness;
using Traceability.Testing;
using Xunit.Abstractions;

namespace Traceability.Acceptance.Faults;

/// <summary>kill -9 of the service, of its database and of both, at random moments under load.</summary>
/// <remarks>The database is the service's own, with everything that makes a commit durable: nothing but processes is killed, so this says nothing about power.</remarks>
public sealed class KillUnderLoadTests(ITestOutputHelper output)
{
    private const int Senders = 8;

    // More than can have been on its way when the database was killed.
    private const int AnsweredMin = 50;
    private const ulong Seed = 20_263;
    private static readonly TimeSpan ReadyGoal = TimeSpan.FromSeconds(10);
    private static readonly TimeSpan ReadyMax = TimeSpan.FromSeconds(90);

    private enum Victim
    {
        Service,
        Database,
        Both,
    }

    [Fact]
    public async Task After_kills_at_random_moments_nothing_is_lost_and_nothing_is_doubled()
    {
        output.WriteLine($"seed {Seed}");
        var dice = new Dice(Seed);
        var single = LongForm.Of(3, 100);
        var kills = dice.Shuffled([.. Enumerable.Repeat(Victim.Service, single), .. Enumerable.Repeat(Victim.Database, single), .. Enumerable.Repeat(Victim.Both, LongForm.Of(3, 50))]);
        await using var service = await ServiceProcess.StartAsync();
        var ledger = new Ledger();
        await using (var first = new RetryingSender(ledger, service.Key, 1, service.Address))
        {
            foreach (var definition in new LampWorks(Seed, LampWorks.DaysAgo(6)).Definitions())
            {
                await first.GiveAsync(definition, CancellationToken.None);
            }
        }

        // Half of the terminals have the client library's outbox, half post by themselves.
        List<ISender> senders = [.. Enumerable.Range(0, Senders / 2).Select(i => new RetryingSender(ledger, service.Key, (ulong)i, service.Address))];
        while (senders.Count < Senders)
        {
            senders.Add(await DurableSender.StartAsync(ledger, service.Address, service.Key));
        }

        await using var load = PlantLoad.Start(Seed, LampWorks.DaysAgo(6), [.. senders]);
        List<(Victim Victim, double Seconds)> recoveries = [];
        var hits = 0;
        foreach (var victim in kills)
        {
            await Task.Delay(dice.Int(50, 1_200));
            hits += ledger.UnderWay > 0 ? 1 : 0;
            recoveries.Add((victim, (await KillAndRecoverAsync(service, victim, ledger, dice)).TotalSeconds));
            await ledger.RequireKeptAsync(service.Database);
            await load.RequireRunningAsync();
        }

        await load.StopAsync(TimeSpan.FromMinutes(1));
        await ledger.RequireWholeAsync(service.Database);
        await Indexes.RequireWholeAsync(service);
        Report(recoveries, ledger, hits);
    }

    private void Report(List<(Victim Victim, double Seconds)> recoveries, Ledger ledger, int hits)
    {
        var all = recoveries.Select(r => r.Seconds).ToArray();
        var inTime = all.Count(s => s <= ReadyGoal.TotalSeconds);
        var each = string.Join(", ", recoveries.GroupBy(r => r.Victim).OrderBy(g => g.Key).Select(g => string.Create(
            CultureInfo.InvariantCulture, $"{g.Key} {g.Count()} (median {LongForm.Percentile([.. g.Select(r => r.Seconds)], 50):0.0} s, most {g.Max(r => r.Seconds):0.0} s)")));
        var measured = string.Create(
            CultureInfo.InvariantCulture,
            $"{ledger.Acknowledged} acknowledged, lost 0, duplicated 0, nothing left in or lost from an outbox; {ledger.Broken} posts broke off, {ledger.Repeats} facts had been stored and their answer lost; storing again within 10 s in {100.0 * inTime / all.Length:0.0} %, 95 % {LongForm.Percentile(all, 95):0.0} s");
        output.WriteLine(each);
        output.WriteLine(measured);

        // Else the kills met an idle service, or answers were never lost, and the test could not fail.
        Assert.True(hits * 10 >= recoveries.Count * 9, $"Only {hits} of {recoveries.Count} kills met posts under way.");
        Assert.True(ledger.Broken >= recoveries.Count, $"{ledger.Broken} posts broke off in {recoveries.Count} kills.");
        Assert.True(!TestLength.IsLong || ledger.Repeats > 0, "No kill fell between a commit and its answer.");
        Assert.True(!TestLength.IsLong || inTime * 100 >= all.Length * 95, $"Ready within {ReadyGoal} in {inTime} of {all.Length} restarts.");
        LongForm.Note("1: kill -9 of the service, of PostgreSQL and of both, under load", $"{each}; seed {Seed}", measured);
    }

    // The time from the kill until the service is ready and has acknowledged something again.
    private static async Task<TimeSpan> KillAndRecoverAsync(ServiceProcess service, Victim victim, Ledger ledger, Dice dice)
    {
        var postmaster = PostgresProcesses.PostmasterOf(service.Cluster);
        Assert.NotEqual(0, postmaster);
        var killed = Stopwatch.GetTimestamp();
        if (victim == Victim.Database)
        {
            service.Forget();
            await Signals.SendAsync("KILL", PostgresProcesses.On(service.Cluster));
        }
        else
        {
            await service.KillAsync(victim == Victim.Both ? PostgresProcesses.On(service.Cluster) : []);
            service.Begin();
            if (dice.Chance(10))
            {
                // In the middle of its start, too.
                await Task.Delay(dice.Int(0, 2_500));
                await service.KillAsync(victim == Victim.Both ? PostgresProcesses.On(service.Cluster) : []);
                killed = Stopwatch.GetTimestamp();
                service.Begin();
            }

            await service.ReadyAsync();
        }

        // What was answered in the moment of the kill does not count: the server must be another one.
        while (PostgresProcesses.PostmasterOf(service.Cluster) is var now && (now == 0 || now == postmaster))
        {
            Assert.True(Stopwatch.GetElapsedTime(killed) < ReadyMax, $"The database is not started again.\n{service.LastLines}");
            await Task.Delay(5);
        }

        var before = ledger.Acknowledged;
        using var client = new HttpClient { BaseAddress = service.Address, Timeout = TimeSpan.FromSeconds(5) };
        while (ledger.Acknowledged <= before + AnsweredMin || !await ServiceProcess.IsReadyAsync(client))
        {
            Assert.True(Stopwatch.GetElapsedTime(killed) < ReadyMax, $"Nothing is stored {ReadyMax} after the kill of {victim}.\n{service.LastLines}");
            await Task.Delay(20);
        }

        return Stopwatch.GetElapsedTime(killed);
    }
}
