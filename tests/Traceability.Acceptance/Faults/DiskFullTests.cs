using System.Diagnostics;
using System.Globalization;
using System.Net;
using Npgsql;
using Traceability.Acceptance.Robustness;
using Traceability.Testing;
using Xunit.Abstractions;

namespace Traceability.Acceptance.Faults;

/// <summary>The disk under the database runs full, and there is space again.</summary>
/// <remarks>
/// A small file system in memory stands for the disk, where this machine lets one be mounted; filled by a file beside the
/// database's own. Where it does not, only the limit on file sizes stands for it, which every user may set.
/// </remarks>
public sealed class DiskFullTests(ITestOutputHelper output)
{
    private const ulong Seed = 20_265;
    private static readonly TimeSpan FullMax = TimeSpan.FromSeconds(60);
    private static readonly TimeSpan RecoveredMax = TimeSpan.FromSeconds(60);
    private static readonly DateTimeOffset Start = LampWorks.DaysAgo(6);

    // A small log, so that a checkpoint comes by in a short test.
    private static readonly Dictionary<string, string> Settings = new(StringComparer.Ordinal)
    {
        ["shared_buffers"] = "32MB", ["max_wal_size"] = "64MB", ["min_wal_size"] = "32MB", ["logging_collector"] = "off",
    };

    [SmallDiskTheory]
    [InlineData(false)]
    [InlineData(true)]
    public async Task A_full_disk_is_told_as_503_nothing_is_lost_and_space_heals_it(bool isLog)
    {
        await using var disk = await SmallDisk.MountAsync(isLog ? 140 : 200);
        await using var other = new Folder();
        await using var server = await DurableServer.StartAsync(isLog ? other.Path : disk.Path, Settings);

        // Tables on one file system and the log on another, so that it is known which of the two is full.
        await server.RestartAsync(() => Folder.MoveAsync(Path.Combine(server.Cluster, "pg_wal"), Path.Combine(isLog ? disk.Path : other.Path, "pg_wal")), Settings);
        await using var plant = await Plant.StartAsync(server);
        var cycles = LongForm.Of(1, 5);
        List<double> healed = [];
        for (var cycle = 0; cycle < cycles; cycle++)
        {
            await plant.WorkAsync(TimeSpan.FromSeconds(1));
            disk.Fill(leave: isLog ? 0 : 1 << 20);
            await plant.UntilRefusedAsync(FullMax, readinessTells: !isLog, isLog ? () => SwitchLogAsync(server) : null);

            // What is stored can be read as long as the server runs: it stops when its log can't be written.
            using var read = await plant.Client.GetAsync("/api/units/LAMP/1");
            Assert.True(read.StatusCode == HttpStatusCode.OK || (isLog && read.StatusCode == HttpStatusCode.ServiceUnavailable), $"{read.StatusCode}");
            disk.Empty();
            healed.Add((await plant.UntilStoredAsync(RecoveredMax)).TotalSeconds);
            await plant.Ledger.RequireKeptAsync(plant.Database);
        }

        await plant.RequireWholeAsync(server);
        var measured = string.Create(CultureInfo.InvariantCulture, $"{plant.Refused} posts answered 503 with Retry-After, 0 otherwise; {plant.Ledger.Acknowledged} acknowledged, lost 0, duplicated 0; ready and storing at most {healed.Max():0.0} s after there was space");
        output.WriteLine(measured);
        LongForm.Note(isLog ? "6: disk full, write-ahead log" : "6: disk full, table files", $"{cycles} times; seed {Seed}", measured);
    }

    [NoSmallDiskFact]
    public async Task A_server_that_may_not_let_its_files_grow_is_told_as_503_and_heals_when_it_may()
    {
        await using var server = await DurableServer.StartAsync(settings: Settings);
        await using var plant = await Plant.StartAsync(server);
        await plant.WorkAsync(TimeSpan.FromSeconds(1));

        // A file of the log just fits: what can't grow is the table of events.
        await LimitFilesAsync(server, "17825792");
        await plant.UntilRefusedAsync(FullMax, readinessTells: true, plant.BatchAsync);
        using (var read = await plant.Client.GetAsync("/api/units/LAMP/1"))
        {
            Assert.True(read.StatusCode is HttpStatusCode.OK or HttpStatusCode.ServiceUnavailable, $"{read.StatusCode}");
        }

        await LimitFilesAsync(server, "unlimited");
        var healed = await plant.UntilStoredAsync(RecoveredMax);
        await plant.RequireWholeAsync(server);
        LongForm.Note("6: files that may not grow (RLIMIT_FSIZE)", $"1 time; seed {Seed}", string.Create(CultureInfo.InvariantCulture, $"{plant.Refused} posts answered 503; {plant.Ledger.Acknowledged} acknowledged, lost 0, duplicated 0; storing again after {healed.TotalSeconds:0.0} s"));
    }

    // Takes the next file of the log, as much writing would.
    private static async Task SwitchLogAsync(DurableServer server)
    {
        try
        {
            await using var connection = new NpgsqlConnection(server.SuperuserConnectionString);
            await connection.OpenAsync();
            await using var command = new NpgsqlCommand("select pg_logical_emit_message(true, 'test', 'x'); select pg_switch_wal()", connection);
            await command.ExecuteNonQueryAsync();
        }
        catch (NpgsqlException)
        {
            // The server is down, which is what is waited for.
        }
    }

    // By the server's own user, who may do it wherever the tests run; the hard limit stays, so that it can be taken back.
    private static async Task LimitFilesAsync(DurableServer server, string soft)
    {
        foreach (var process in PostgresProcesses.On(server.Cluster))
        {
            string[] limit = ["prlimit", $"--pid={process.ToString(CultureInfo.InvariantCulture)}", $"--fsize={soft}:"];
            var status = await File.ReadAllLinesAsync($"/proc/{process.ToString(CultureInfo.InvariantCulture)}/status");
            string Id(string name) => status.First(l => l.StartsWith(name, StringComparison.Ordinal)).Split('\t')[1];
            string[] asUser = Environment.IsPrivilegedProcess && Id("Uid:") != "0" ? ["setpriv", $"--reuid={Id("Uid:")}", $"--regid={Id("Gid:")}", "--clear-groups", .. limit] : limit;
            using var run = Process.Start(new ProcessStartInfo(asUser[0], asUser[1..]) { UseShellExecute = false, RedirectStandardError = true })!;
            await run.WaitForExitAsync();

            // One that has ended meanwhile needs none.
            Assert.True(run.ExitCode == 0 || !PostgresProcesses.On(server.Cluster).Contains(process), await run.StandardError.ReadToEndAsync());
        }
    }

    /// <summary>An instance of the service on the server, and terminals that post to it.</summary>
    private sealed class Plant : IAsyncDisposable
    {
        private readonly ServiceProcess service;
        private readonly LampWorks works = new(Seed + 1, Start);
        private readonly Dice dice = new(Seed);
        private readonly Queue<Sent> pending = new();
        private int lamp;

        private Plant(ServiceProcess service, NpgsqlDataSource database)
        {
            this.service = service;
            Database = database;
            Client = Terminal.Client(service.Address, service.Key);
        }

        public NpgsqlDataSource Database { get; }

        public HttpClient Client { get; }

        public Ledger Ledger { get; } = new();

        public int Refused { get; private set; }

        public static async Task<Plant> StartAsync(DurableServer server)
        {
            var started = await ServiceProcess.StartOnAsync(server.ConnectionString);
            var plant = new Plant(started, NpgsqlDataSource.Create(server.SuperuserConnectionString));
            foreach (var fact in new LampWorks(Seed, Start).Definitions().Concat(plant.works.SimpleLamp(1, 0)))
            {
                plant.pending.Enqueue(fact);
            }

            while (plant.pending.Count > 0)
            {
                Assert.True(await plant.PostAsync());
            }

            return plant;
        }

        /// <summary>Builds lamps for a while, without trouble.</summary>
        public async Task WorkAsync(TimeSpan time)
        {
            for (var began = Stopwatch.GetTimestamp(); Stopwatch.GetElapsedTime(began) < time;)
            {
                Assert.True(await PostAsync());
            }
        }

        /// <summary>Posts until a post is refused for lack of space; and, where it is to tell, until readiness does.</summary>
        public async Task UntilRefusedAsync(TimeSpan timeout, bool readinessTells, Func<Task>? hasten)
        {
            var before = Refused;
            var began = Stopwatch.GetTimestamp();
            while (Refused - before < 3 || (readinessTells && await ServiceProcess.IsReadyAsync(Client)))
            {
                Assert.True(Stopwatch.GetElapsedTime(began) < timeout, string.Create(CultureInfo.InvariantCulture, $"After {timeout} {Refused - before} posts were refused, and readiness has not told of it.\n{service.LastLines}"));
                await (hasten?.Invoke() ?? Task.CompletedTask);
                await PostAsync();
            }

            using var ready = await Client.GetAsync("/health/ready");
            Assert.True(!readinessTells || (await ready.Content.ReadAsStringAsync()).Contains("disk", StringComparison.Ordinal));
        }

        /// <summary>Posts many facts at once.</summary>
        public async Task BatchAsync()
        {
            var facts = Enumerable.Range(0, 400).SelectMany(_ => Lamp()).ToArray();
            var replies = await Terminal.PostBatchAsync(Client, facts);
            for (var i = 0; i < facts.Length; i++)
            {
                Ledger.Give(facts[i]);
                if (replies[i].IsRecorded)
                {
                    Acknowledge(facts[i], replies[i]);
                    continue;
                }

                // The lines that were not stored are kept; those that follow on one of them are not known without it.
                Assert.True(replies[i].Status is 404 or 503, $"{replies[i].Status} {replies[i].Body}");
                pending.Enqueue(facts[i]);
                Refused += replies[i].Status == 503 ? 1 : 0;
            }
        }

        /// <summary>Waits until posts are stored and the service is ready again, by itself.</summary>
        public async Task<TimeSpan> UntilStoredAsync(TimeSpan timeout)
        {
            var began = Stopwatch.GetTimestamp();
            while (!await PostAsync() || !await ServiceProcess.IsReadyAsync(Client))
            {
                Assert.True(Stopwatch.GetElapsedTime(began) < timeout, $"Nothing is stored {timeout} after there was space again.\n{service.LastLines}");
                await Task.Delay(50);
            }

            return Stopwatch.GetElapsedTime(began);
        }

        /// <summary>Everything is stored once, and the database is whole.</summary>
        public async Task RequireWholeAsync(DurableServer server)
        {
            while (pending.Count > 0)
            {
                await PostAsync();
            }

            await Ledger.RequireWholeAsync(Database);
            await Indexes.RequireWholeAsync(server.SuperuserConnectionString);
        }

        public async ValueTask DisposeAsync()
        {
            Client.Dispose();
            await Database.DisposeAsync();
            await service.DisposeAsync();
        }

        // Each with a note that can't be made smaller, since small facts take long to fill a disk.
        private IEnumerable<Sent> Lamp()
        {
            lamp++;
            return works.SimpleLamp(1 + lamp, lamp % 400).Select(fact => fact.Type != "step-completed" ? fact : fact with
            {
                Json = LampWorks.With(fact.Json, "note", string.Concat(Enumerable.Range(0, 150).Select(_ => Convert.ToBase64String(BitConverter.GetBytes(dice.Next()))))),
            });
        }

        private void Acknowledge(Sent fact, FactReply reply) =>
            Ledger.Acknowledge(fact, reply.Body.GetProperty("stream").GetString()!, reply.Body.GetProperty("version").GetInt32(), reply.Status == 200);

        // The next fact; kept until it is recorded.
        private async Task<bool> PostAsync()
        {
            while (pending.Count == 0)
            {
                foreach (var fact in Lamp())
                {
                    pending.Enqueue(fact);
                }
            }

            var next = pending.Peek();
            Ledger.Give(next);
            var reply = await Terminal.PostAsync(Client, next);
            if (reply.IsRecorded)
            {
                Acknowledge(next, reply);
                pending.Dequeue();
                return true;
            }

            Assert.Equal((503, "store-unavailable"), (reply.Status, reply.Code));
            Assert.NotNull(reply.RetryAfter);
            Refused++;
            return false;
        }
    }
}
