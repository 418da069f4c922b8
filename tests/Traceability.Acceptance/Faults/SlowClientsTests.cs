using System.Diagnostics;
using System.Globalization;
using Traceability.Acceptance.Robustness;
using Traceability.Testing;
using Xunit.Abstractions;

namespace Traceability.Acceptance.Faults;

/// <summary>Tests that measure time run when no others of the project do.</summary>
[CollectionDefinition(Name, DisableParallelization = true)]
public sealed class Alone
{
    internal const string Name = "alone";
}

/// <summary>Thousands of slow clients: those who are not slow notice little, and the slow are sent away.</summary>
[Collection(Alone.Name)]
public sealed class SlowClientsTests(ITestOutputHelper output)
{
    private const int Steady = 4;
    private const int SparedFiles = 1_500;
    private static readonly int Wanted = LongForm.Of(1_000, 10_000);
    private static readonly int Rounds = LongForm.Of(2, 5);
    private static readonly TimeSpan Measured = TimeSpan.FromSeconds(LongForm.Of(2, 8));
    private static readonly TimeSpan Settling = TimeSpan.FromSeconds(LongForm.Of(1, 4));
    private static readonly TimeSpan OpenMax = TimeSpan.FromSeconds(60);

    [Fact]
    public async Task Slow_clients_do_not_slow_down_the_others()
    {
        var count = Math.Min(Wanted, OpenFilesMax() - SparedFiles);
        Assert.True(count >= 500, "This machine lets a process open too few files for this test.");
        await using var empty = await PostgresServer.CreateDatabaseAsync();
        await using var service = await ServiceProcess.StartOnAsync(empty.ConnectionString, "--Postgres:AllowUnsafeDurability=true", "--Http:AnswerBytesPerSecondMin=40000");
        var works = new LampWorks(20_267, LampWorks.DaysAgo(6));
        using (var client = Terminal.Client(service.Address, service.Key))
        {
            await Terminal.PostAllAsync(client, [.. works.Definitions(), .. works.SimpleLamp(1, 0)], batch: 100);
        }

        var facts = new Facts(works);
        _ = Latencies(service, facts, TimeSpan.FromSeconds(2));
        List<double> alone = [];
        List<double> beside = [];
        var cut = new int[4];
        for (var round = 0; round < Rounds; round++)
        {
            alone.Add(LongForm.Percentile(Latencies(service, facts, Measured), 99));
            await using var slow = SlowClientsProcess.Start(service.Address, service.Key, count);
            for (var began = Stopwatch.GetTimestamp(); slow.Open.Sum() < count * 9 / 10;)
            {
                Assert.True(Stopwatch.GetElapsedTime(began) < OpenMax, $"Only {slow.Open.Sum()} of {count} slow connections are open, {slow.Refused} tries failed.");
                await Task.Delay(50);
            }

            // Opening them is another matter: what is measured is that they are there.
            await Task.Delay(Settling);
            beside.Add(LongForm.Percentile(Latencies(service, facts, Measured), 99));
            Assert.True(slow.Open.Sum() >= count * 8 / 10, $"Only {slow.Open.Sum()} of {count} slow connections are open at the end.");
            if (round == Rounds - 1)
            {
                await UntilCutAsync(slow);
                cut = [.. slow.Cut];
            }
        }

        var (before, under) = (LongForm.Percentile(alone, 50), LongForm.Percentile(beside, 50));
        var memory = ProcessMemory.Megabytes(service.ProcessId);
        var measured = string.Create(
            CultureInfo.InvariantCulture, $"99 % of the others' requests within {before:0.0} ms alone, {under:0.0} ms beside them (ratio {under / before:0.00}, median of {Rounds} rounds); sent away: {cut[0]} slow heads, {cut[1]} slow bodies, {cut[2]} that took nothing; of those just fast enough {cut[3]}; memory of the service {memory:0} MB");
        output.WriteLine(measured);

        // The short form runs on any machine beside anything: it would tell a server that stands still, not one that is a little slower.
        Assert.True(TestLength.IsLong ? under <= before * 2 : under <= (before * 5) + 100, measured);
        LongForm.Note("14: slow head, slow body, slow taking", string.Create(CultureInfo.InvariantCulture, $"{count} connections, {Rounds} rounds"), measured);
    }

    private static async Task UntilCutAsync(SlowClientsProcess slow)
    {
        for (var began = Stopwatch.GetTimestamp(); slow.Cut.Take(3).Any(c => c == 0);)
        {
            Assert.True(Stopwatch.GetElapsedTime(began) < TimeSpan.FromSeconds(40), $"Slow connections are never ended: {string.Join(", ", slow.Cut)} of heads, bodies, answers were.");
            await Task.Delay(100);
        }
    }

    // Facts, questions and reads in turn, on threads of their own, with a little pause so that the machine has room.
    private static List<double> Latencies(ServiceProcess service, Facts facts, TimeSpan time)
    {
        var all = new List<double>[Steady];
        var threads = Enumerable.Range(0, Steady).Select(i => new Thread(() => all[i] = Measure(service, facts, time))).ToArray();
        foreach (var thread in threads)
        {
            thread.Start();
        }

        foreach (var thread in threads)
        {
            thread.Join();
        }

        return [.. all.SelectMany(a => a)];
    }

    private static List<double> Measure(ServiceProcess service, Facts facts, TimeSpan time)
    {
        List<double> latencies = [];
        using var client = new SteadyClient(service.Address, service.Key);
        for (var (began, number) = (Stopwatch.GetTimestamp(), 0); Stopwatch.GetElapsedTime(began) < time; number++)
        {
            var (method, path, body) = (number % 3) switch
            {
                0 => ("POST", "/api/facts", facts.Next()),
                1 => ("POST", "/api/units/LAMP/1/steps/GLUE/readiness", """{"station":"ST-1"}"""),
                _ => ("GET", "/api/units/LAMP/1", (string?)null),
            };
            var sent = Stopwatch.GetTimestamp();
            var status = client.Send(method, path, body);
            latencies.Add(Stopwatch.GetElapsedTime(sent).TotalMilliseconds);
            if (status is not (200 or 201))
            {
                throw new InvalidOperationException($"{method} {path} was answered with {status}.");
            }

            Thread.Sleep(3);
        }

        return latencies;
    }

    private static int OpenFilesMax() => int.TryParse(
        File.ReadLines("/proc/self/limits").First(l => l.StartsWith("Max open files", StringComparison.Ordinal)).Split(' ', StringSplitOptions.RemoveEmptyEntries)[3], NumberStyles.None, CultureInfo.InvariantCulture, out var most) ? most : int.MaxValue;

    private sealed class Facts(LampWorks works)
    {
        private int lamp = 1;

        public string Next()
        {
            lock (works)
            {
                return works.SimpleLamp(++lamp, 0)[0].Json;
            }
        }
    }
}
