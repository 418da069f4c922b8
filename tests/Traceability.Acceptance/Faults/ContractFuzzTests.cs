using System.Collections.Concurrent;
using System.Diagnostics;
using System.Globalization;
using System.Text;
using System.Text.Json;
using Npgsql;
using Traceability.Acceptance.Robustness;
using Traceability.Testing;
using Xunit.Abstractions;

namespace Traceability.Acceptance.Faults;

/// <summary>Requests made by chance from the OpenAPI document: no failure, no hang, no half of anything, and no memory kept.</summary>
public sealed class ContractFuzzTests(ITestOutputHelper output)
{
    private const int Connections = 4;
    private const ulong Seed = 20_266;
    private const int PassesMax = 6;
    private static readonly int Requests = LongForm.Of(3_000, 100_000);

    [Fact]
    public async Task Requests_made_from_the_contract_by_chance_are_answered_and_what_is_refused_leaves_nothing()
    {
        await using var empty = await PostgresServer.CreateDatabaseAsync();
        await using var service = await ServiceProcess.StartOnAsync(empty.ConnectionString, "--Postgres:AllowUnsafeDurability=true");
        using var client = Terminal.Client(service.Address, service.Key);
        var history = LampHistory.Build(5, LampWorks.DaysAgo(6), 3);
        await Terminal.PostAllAsync(client, history, batch: 100);
        using var document = JsonDocument.Parse(await client.GetStringAsync("/openapi.json"));
        var made = new ContractRequests(Seed, service.Key, document.RootElement, history);
        Assert.True(made.Operations > 30, "The document lists hardly any operation.");
        var watch = new Watch(service);

        var requests = Enumerable.Range(0, Requests).Select(made.Next).ToArray();
        var began = Stopwatch.GetTimestamp();
        var refused = await watch.SendAsync(requests);
        var took = Stopwatch.GetElapsedTime(began);
        watch.RequireRight();
        var replayed = await ReplayAsync(service.Database, watch, refused);
        watch.RequireRight();
        watch.RequireFlatMemory();
        await RequireWholeAsync(service, client);

        var measured = string.Create(
            CultureInfo.InvariantCulture,
            $"0 answers of 5xx (but 505 to versions of HTTP that there are not), 0 without an answer in 20 s, {watch.Statuses}; {replayed} refused writes sent again left every table as it was; memory of the service {watch.MemoryFirst:0} MB after the first quarter, {watch.MemoryLast:0} MB in the last");
        output.WriteLine(measured);
        LongForm.Note("7: requests generated from the contract and by mutation", string.Create(CultureInfo.InvariantCulture, $"{Requests} requests to {made.Operations} operations in {took.TotalSeconds:0} s; seed {Seed}"), measured);
    }

    // What was refused once is sent again while nothing else writes. Some of it has become right meanwhile (a unit that is known by
    // now), so it is sent until a pass accepts nothing: that pass must leave every table as it was.
    private static async Task<int> ReplayAsync(NpgsqlDataSource database, Watch watch, IReadOnlyList<WireRequest> refused)
    {
        for (var pass = 1; pass <= PassesMax; pass++)
        {
            await Tables.SettleAsync(database);
            var before = await Tables.CountsAsync(database);
            var again = await watch.SendAsync(refused);
            await Tables.SettleAsync(database);
            if (again.Count == refused.Count)
            {
                Assert.Equal(before, await Tables.CountsAsync(database));
                Assert.True(refused.Count > Requests / 50, $"Only {refused.Count} writes were refused.");
                return refused.Count;
            }

            refused = again;
        }

        throw new InvalidOperationException($"After {PassesMax} passes something that was refused is still accepted.");
    }

    private static async Task RequireWholeAsync(ServiceProcess service, HttpClient client)
    {
        await Terminal.PostAllAsync(client, new LampWorks(Seed, LampWorks.DaysAgo(6)).SimpleLamp(99_999, 0), batch: 1);
        Assert.True(await ServiceProcess.IsReadyAsync(client));
        await Tables.SettleAsync(service.Database);
        Assert.Equal(
            await Tables.CountAsync(service.Database, "events.mt_events"),
            await Tables.CountAsync(service.Database, "events.mt_events e join traceability.receipt r on r.fact_id = e.id and r.stream = e.stream_id and r.version = e.version"));
        Tables.RequireNone(await FreshJudgement.DifferencesAsync(service.Database));
        Tables.RequireNone(await Yields.DifferencesAsync(service.Database));
    }

    /// <summary>Sends requests and gathers what is wrong with the answers and how much memory the service takes.</summary>
    private sealed class Watch(ServiceProcess service)
    {
        private const int MemoryEvery = 100;
        private const double MemoryMaxMegabytes = 600;

        private static readonly Lazy<HashSet<string>> Codes = new(() => [.. ProblemCodes()]);

        private readonly ConcurrentQueue<string> wrong = new();
        private readonly ConcurrentDictionary<int, int> statuses = new();
        private readonly ConcurrentQueue<double> memory = new();
        private int sent;

        public double MemoryFirst { get; private set; }

        public double MemoryLast { get; private set; }

        public string Statuses => string.Join(", ", statuses.OrderBy(s => s.Key).Select(s => string.Create(CultureInfo.InvariantCulture, $"{(s.Key == 0 ? "closed" : s.Key)} {s.Value}×")));

        /// <summary>Sends them on a few connections; gives the writes that were refused.</summary>
        public async Task<IReadOnlyList<WireRequest>> SendAsync(IReadOnlyList<WireRequest> requests)
        {
            var refused = new ConcurrentBag<(int Number, WireRequest Request)>();
            var next = -1;
            await Task.WhenAll(Enumerable.Range(0, Connections).Select(_ => Task.Run(async () =>
            {
                using var wire = new WireClient(service.Address);
                for (var number = Interlocked.Increment(ref next); number < requests.Count; number = Interlocked.Increment(ref next))
                {
                    if (await SendAsync(wire, requests[number]))
                    {
                        refused.Add((number, requests[number]));
                    }
                }
            })));
            return [.. refused.OrderBy(r => r.Number).Select(r => r.Request)];
        }

        public void RequireRight()
        {
            Assert.True(wrong.IsEmpty, $"{wrong.Count} wrong answers.\n{string.Join('\n', wrong.Take(20))}");
            Assert.True(statuses.Where(s => s.Key is >= 400 and < 500).Sum(s => s.Value) > Requests / 3 && statuses.GetValueOrDefault(200) > Requests / 50 && statuses.GetValueOrDefault(201) > 0, Statuses);
        }

        /// <summary>Memory of the last quarter beside that of the second: the first fills caches and buffers.</summary>
        public void RequireFlatMemory()
        {
            var all = memory.ToArray();
            var quarter = all.Length / 4;
            MemoryFirst = LongForm.Percentile(all[quarter..(2 * quarter)], 50);
            MemoryLast = LongForm.Percentile(all[^quarter..], 50);
            Assert.True(MemoryLast < MemoryMaxMegabytes && (!TestLength.IsLong || MemoryLast < MemoryFirst * 1.25), string.Create(CultureInfo.InvariantCulture, $"{MemoryFirst:0} MB in the second quarter, {MemoryLast:0} MB in the last."));
        }

        // Whether it is a write that was refused whole.
        private async Task<bool> SendAsync(WireClient wire, WireRequest request)
        {
            if (Interlocked.Increment(ref sent) % MemoryEvery == 0)
            {
                memory.Enqueue(ProcessMemory.Megabytes(service.ProcessId));
            }

            try
            {
                var answer = await wire.SendAsync(request.Bytes, request.IsHttp);

                // The answer to HEAD tells the length of a body that does not come.
                if (request.What.StartsWith("HEAD", StringComparison.Ordinal))
                {
                    wire.Close();
                    return false;
                }

                statuses.AddOrUpdate(answer.Status, 1, (_, n) => n + 1);
                if (Fault(request, answer) is { } fault)
                {
                    wrong.Enqueue($"{fault}: {request.What}\n{Encoding.Latin1.GetString(request.Bytes.AsSpan(0, Math.Min(1_500, request.Bytes.Length)))}\n-> {answer.Status} {answer.Body}");
                }

                return request.IsWrite && request.IsHttp && (answer.Status is >= 400 and < 500 || IsBatchRefusedWhole(answer));
            }
            catch (TimeoutException e)
            {
                wrong.Enqueue($"{e.Message} {request.What}");
                return false;
            }
        }

        private static bool IsBatchRefusedWhole(WireAnswer answer) =>
            answer.Status == 200 && answer.Head.Contains("application/x-ndjson", StringComparison.Ordinal)
            && Lines(answer).All(l => l.TryGetProperty("counts", out var counts)
                ? counts.GetProperty("recorded").GetInt64() == 0
                : l.GetProperty("status").GetInt32() is >= 400 and < 500);

        private static IEnumerable<JsonElement> Lines(WireAnswer answer) =>
            answer.Body.Split('\n', StringSplitOptions.RemoveEmptyEntries).Select(l => JsonDocument.Parse(l).RootElement);

        private static string? Fault(WireRequest request, WireAnswer answer)
        {
            if (answer.Status == 0)
            {
                // A large body may be refused by closing; what can't be read as HTTP may be, too.
                return request.IsHttp && request.Bytes.Length < 60_000 ? "closed without an answer" : null;
            }

            if (answer.Status >= 500)
            {
                return answer.Status == 505 && !request.IsHttp ? null : "a failure of the service";
            }

            if (answer.Status < 400)
            {
                return answer.Head.Contains("application/x-ndjson", StringComparison.Ordinal)
                    ? Lines(answer).Select(l => l.TryGetProperty("problem", out var p) ? ProblemFault(p, l.GetProperty("status").GetInt32()) : null).FirstOrDefault(f => f is not null)
                    : null;
            }

            // What the server library refuses before any of our code has a bare answer.
            if (answer.Body.Length == 0)
            {
                return request.IsHttp ? "a bare answer" : null;
            }

            if (!answer.Head.Contains("content-type: application/problem+json", StringComparison.Ordinal))
            {
                return "not a problem document";
            }

            try
            {
                return ProblemFault(JsonDocument.Parse(answer.Body).RootElement, answer.Status);
            }
            catch (JsonException e)
            {
                return $"a body that can't be read ({e.Message})";
            }
        }

        private static string? ProblemFault(JsonElement problem, int status) =>
            problem.GetProperty("status").GetInt32() == status && status < 500
            && problem.TryGetProperty("code", out var code) && Codes.Value.Contains(code.GetString()!)
            && problem.GetProperty("type").GetString() == $"/problems/{code.GetString()}"
            && problem.GetProperty("title").GetString() is { Length: > 0 }
            && problem.GetProperty("detail").GetString() is { Length: > 0 }
            && (!problem.TryGetProperty("errors", out var errors) || errors.ValueKind == JsonValueKind.Array)
                ? null
                : "a problem document that lacks something";

        private static IEnumerable<string> ProblemCodes()
        {
            var folder = new DirectoryInfo(AppContext.BaseDirectory);
            while (!File.Exists(Path.Combine(folder.FullName, "Traceability.sln")))
            {
                folder = folder.Parent ?? throw new DirectoryNotFoundException("No folder above holds Traceability.sln.");
            }

            using var file = JsonDocument.Parse(File.ReadAllText(Path.Combine(folder.FullName, "contracts", "problems.json")));
            return [.. file.RootElement.EnumerateArray().Select(p => p.GetProperty("code").GetString()!)];
        }
    }
}

/// <summary>The memory of a process, as the kernel counts it.</summary>
internal static class ProcessMemory
{
    /// <summary>Resident memory in megabytes (10^6 bytes).</summary>
    public static double Megabytes(int process)
    {
        var line = File.ReadLines($"/proc/{process.ToString(CultureInfo.InvariantCulture)}/status").First(l => l.StartsWith("VmRSS:", StringComparison.Ordinal));
        return double.Parse(line.Split(' ', StringSplitOptions.RemoveEmptyEntries)[1], CultureInfo.InvariantCulture) * 1.024 / 1000;
    }
}
