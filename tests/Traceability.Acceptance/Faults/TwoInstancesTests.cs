using System.Diagnostics;
using System.Globalization;
using System.Net;
using Npgsql;
using Traceability.Acceptance.Robustness;
using Traceability.Testing;
using Xunit.Abstractions;

namespace Traceability.Acceptance.Faults;

/// <summary>Two instances of the service on one database: one of them dies, stands still, or comes to itself again.</summary>
public sealed class TwoInstancesTests(TwoInstancesTests.Pair pair, ITestOutputHelper output) : IClassFixture<TwoInstancesTests.Pair>
{
    private const int Senders = 6;
    private const ulong Seed = 20_264;
    private const int AbandonedSeconds = 3;

    // So that judging all units of a lot again takes a while.
    private const int FactsAtFirst = 1_500;    private static readonly TimeSpan DrainMax = TimeSpan.FromSeconds(60);
    private static readonly DateTimeOffset Start = LampWorks.DaysAgo(6);

    [Fact]
    public async Task When_one_of_two_dies_or_stands_still_the_other_does_the_work_and_nothing_is_lost_or_doubled()
    {
        var dice = new Dice(Seed);
        await using var load = PlantLoad.Start(Seed, Start, [.. Enumerable.Range(0, Senders).Select(i => (ISender)new RetryingSender(pair.Ledger, pair.Key, Seed + (ulong)i, pair.Addresses))]);
        List<double> kills = [];
        List<double> pauses = [];
        var inWork = 0;
        while (pair.Ledger.Acknowledged < FactsAtFirst)
        {
            await load.RequireRunningAsync();
            await Task.Delay(50);
        }

        for (var round = 0; round < LongForm.Of(3, 24); round++)
        {
            await Task.Delay(dice.Int(300, 1_200));
            var worker = await pair.WorkerAsync();
            var queued = await pair.QueueAsync(round, dice);
            await Task.Delay(dice.Int(0, 30));
            var hit = round % 2 == 0 ? worker.KillAsync() : worker.PauseAsync();
            await hit;
            var left = await Tables.CountAsync(pair.Database, "traceability.rejudge");
            inWork += left > 0 ? 1 : 0;
            output.WriteLine(string.Create(CultureInfo.InvariantCulture, $"round {round}: {queued} queued, {left} left when the worker was {(round % 2 == 0 ? "killed" : "stopped")}"));
            var others = await pair.DrainedByOtherAsync(worker);
            (round % 2 == 0 ? kills : pauses).Add(others.TotalSeconds);
            if (round % 2 == 0)
            {
                await worker.RunAsync();
            }
            else
            {
                // Longer than anything that it holds is left to it.
                await Task.Delay(TimeSpan.FromSeconds(AbandonedSeconds));
                await worker.ResumeAsync();
            }

            await pair.Ledger.RequireKeptAsync(pair.Database);
            await load.RequireRunningAsync();
        }

        await load.StopAsync(TimeSpan.FromMinutes(1));
        await pair.Ledger.RequireWholeAsync(pair.Database);
        var measured = string.Create(
            CultureInfo.InvariantCulture,
            $"{pair.Ledger.Acknowledged} acknowledged, lost 0, duplicated 0; the other had judged everything again after at most {kills.Max():0.0} s (killed) and {pauses.Max():0.0} s (stopped)");
        output.WriteLine(measured);
        LongForm.Note("16: two instances, the one whose worker is in mid-batch killed, or stopped (SIGSTOP) and resumed", $"{kills.Count} kills, {pauses.Count} stops, {inWork} of them with units left to judge; seed {Seed}", measured);
        Assert.True(inWork * 3 >= kills.Count + pauses.Count, $"Only {inWork} kills and stops met the worker with work left.");
    }

    [Fact]
    public async Task A_commit_whose_sender_stands_still_in_its_midst_is_ended_by_the_others()
    {
        var client = pair.Client;
        var works = new LampWorks(Seed + 1, Start);

        // The lock that every group takes, alone: nobody else can commit.
        var began = Stopwatch.GetTimestamp();
        using var unfinished = await UnfinishedCommit.BeginAsync(pair.Server.ConnectionString, "select pg_advisory_xact_lock(7270002)");
        var fact = works.SimpleLamp(900_001, 0)[0];
        var posted = pair.PostAsync(fact);
        await Task.Delay(TimeSpan.FromSeconds(1));
        Assert.False(posted.IsCompleted, "The commit went on although another session held its lock.");

        // If it took longer than a commit waits for a lock, its sender was told to come back.
        var first = (await posted).Status;
        Assert.True(first == 201 || (first == 503 && (await pair.PostAsync(fact)).Status == 201), $"{first}");
        var took = Stopwatch.GetElapsedTime(began);
        Assert.InRange(took, TimeSpan.FromSeconds(1), TimeSpan.FromSeconds((AbandonedSeconds * 2) + 10));
        LongForm.Note("16: an instance that stands still in the midst of sending a commit", "1 unfinished commit that holds the lock of all groups", string.Create(CultureInfo.InvariantCulture, $"ended after {took.TotalSeconds:0.0} s, the others' facts stored"));
    }

    [Fact]
    public async Task A_stranger_that_holds_a_lock_makes_readiness_fail_and_posts_are_told_to_come_back()
    {
        var client = pair.Client;
        var works = new LampWorks(Seed + 2, Start);
        var fact = works.SimpleLamp(900_002, 0)[0];
        await using (var stranger = new NpgsqlConnection(pair.Server.SuperuserConnectionString))
        {
            await stranger.OpenAsync();
            await using var forgotten = await stranger.BeginTransactionAsync();
            await using (var held = new NpgsqlCommand("select pg_advisory_xact_lock(7270002)", stranger))
            {
                await held.ExecuteNonQueryAsync();
            }

            var began = Stopwatch.GetTimestamp();
            var posted = pair.PostAsync(fact);
            while (await ServiceProcess.IsReadyAsync(client))
            {
                Assert.True(Stopwatch.GetElapsedTime(began) < TimeSpan.FromSeconds(30), "It is still ready after 30 s.");
                await Task.Delay(200);
            }

            LongForm.Note("16: idle transaction of a stranger that holds what commits need", "1", string.Create(CultureInfo.InvariantCulture, $"readiness fails after {Stopwatch.GetElapsedTime(began).TotalSeconds:0.0} s"));
            using var answer = await client.GetAsync("/health/ready");
            Assert.Equal(HttpStatusCode.ServiceUnavailable, answer.StatusCode);
            Assert.Contains("pg_blocking_pids", await answer.Content.ReadAsStringAsync(), StringComparison.Ordinal);

            // Whoever waits is told in the end, and reads are not held up.
            Assert.Equal(503, (await posted).Status);
            using var read = await client.GetAsync("/api/items/LAMP");
            Assert.Equal(HttpStatusCode.OK, read.StatusCode);
        }

        Assert.Equal(201, (await pair.PostAsync(fact)).Status);
        var freed = Stopwatch.GetTimestamp();
        while (!await ServiceProcess.IsReadyAsync(client))
        {
            Assert.True(Stopwatch.GetElapsedTime(freed) < TimeSpan.FromSeconds(30), "It is not ready again 30 s after the lock was given back.");
            await Task.Delay(200);
        }
    }

    /// <summary>Two instances on one server, and what their senders know.</summary>
    public sealed class Pair : IAsyncLifetime
    {
        // A lease names its holder by an id that says nothing: whose it is follows from who is there to hold it.
        private readonly Dictionary<ServiceProcess, Guid> known = [];
        private ServiceProcess[] instances = [];

        internal DurableServer Server { get; private set; } = null!;

        internal NpgsqlDataSource Database { get; private set; } = null!;

        internal string Key { get; private set; } = string.Empty;

        internal HttpClient Client { get; private set; } = null!;

        internal Ledger Ledger { get; } = new();

        internal Uri[] Addresses => [.. instances.Select(i => i.Address)];

        /// <inheritdoc />
        public async Task InitializeAsync()
        {
            string[] settings = [$"--Postgres:AbandonedAfter=00:00:0{AbandonedSeconds}"];
            Server = await DurableServer.StartAsync();
            Database = NpgsqlDataSource.Create(Server.SuperuserConnectionString);
            var first = await ServiceProcess.StartOnAsync(Server.ConnectionString, settings);
            instances = [first];
            Guid? holder;
            while ((holder = await HolderAsync()) is null)
            {
                await Task.Delay(50);
            }

            known[first] = holder.Value;
            instances = [first, await ServiceProcess.StartOnAsync(Server.ConnectionString, settings)];
            Key = instances[0].Key;
            Client = Terminal.Client(instances[0].Address, Key);
            await using var sender = new RetryingSender(Ledger, Key, 1, Addresses);
            foreach (var definition in new LampWorks(Seed, Start).Definitions())
            {
                await sender.GiveAsync(definition, CancellationToken.None);
            }
        }

        /// <inheritdoc />
        public async Task DisposeAsync()
        {
            Client.Dispose();
            await Database.DisposeAsync();
            foreach (var instance in instances)
            {
                await instance.DisposeAsync();
            }

            await Server.DisposeAsync();
        }

        /// <summary>One post; what is recorded is noted.</summary>
        internal async Task<FactReply> PostAsync(Sent fact)
        {
            var reply = await Terminal.PostAsync(Client, fact);
            if (reply.IsRecorded)
            {
                Ledger.Give(fact);
                Ledger.Acknowledge(fact, reply.Body.GetProperty("stream").GetString()!, reply.Body.GetProperty("version").GetInt32(), isRepeat: false);
            }

            return reply;
        }

        /// <summary>The instance that has the lease.</summary>
        internal async Task<ServiceProcess> WorkerAsync()
        {
            for (var tries = 0; tries < 200; tries++)
            {
                if (await HolderAsync() is { } holder && instances.FirstOrDefault(i => known.TryGetValue(i, out var id) && id == holder) is { } found)
                {
                    return found;
                }

                await Task.Delay(100);
            }

            throw new TimeoutException("No instance that is known has the lease.");
        }

        /// <summary>Has every unit of the plant judged again; gives how many wait.</summary>
        internal async Task<long> QueueAsync(int round, Dice dice)
        {
            var works = new LampWorks(Seed + 100 + (ulong)round, Start);
            var expiry = works.Time(dice.Int(0, 600));
            await using var sender = new RetryingSender(Ledger, Key, (ulong)round, Addresses);
            await sender.GiveAsync(works.Define("lot-expiry-set", 700 + round, $$""" "lot":{"item":"ADH","lot":"L1"},"expiresAt":"{{expiry}}","reason":"Test" """), CancellationToken.None);
            return await Tables.CountAsync(Database, "traceability.rejudge");
        }

        /// <summary>Waits until the other has the lease and nothing that was asked for until now waits any more.</summary>
        internal async Task<TimeSpan> DrainedByOtherAsync(ServiceProcess gone)
        {
            var began = Stopwatch.GetTimestamp();
            await using var now = Database.CreateCommand("select clock_timestamp()");
            var asked = (DateTime)(await now.ExecuteScalarAsync())!;
            await using var waiting = Database.CreateCommand("select count(*) from traceability.rejudge where asked_at < $1");
            waiting.Parameters.Add(new() { Value = asked });
            Guid? holder;
            while ((holder = await HolderAsync()) is null || holder == known[gone] || (long)(await waiting.ExecuteScalarAsync())! > 0)
            {
                Assert.True(Stopwatch.GetElapsedTime(began) < DrainMax, $"Units still wait to be judged again {DrainMax} after the worker was gone.");
                await Task.Delay(50);
            }

            known[instances.Single(i => i != gone)] = holder.Value;
            return Stopwatch.GetElapsedTime(began);
        }

        private async Task<Guid?> HolderAsync()
        {
            await using var command = Database.CreateCommand("select holder from traceability.worker_lease where name = 'rejudge-worker' and until > clock_timestamp()");
            return await command.ExecuteScalarAsync() as Guid?;
        }
    }
}
