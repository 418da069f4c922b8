using System.Diagnostics;
using System.Net;
using Npgsql;
using Traceability.Benchmarks.Figures;
using Traceability.Benchmarks.Load;

namespace Traceability.Benchmarks.Soak;

/// <summary>The command "soak": a steady load for a long time, and whether memory, connections and latency stay as they were.</summary>
internal static class SoakCommand
{
    private const int Writers = 8;
    private const int Readers = 2;
    private const double FactsPerSecond = 250;
    private const double ReadsPerSecond = 20;
    private static readonly TimeSpan WarmUp = TimeSpan.FromMinutes(4);

    /// <summary>Runs: --minutes N (default 60), --out file.</summary>
    public static async Task<int> RunAsync(string[] args)
    {
        var minutes = double.Parse(Value(args, "--minutes") ?? "60", CultureInfo.InvariantCulture);
        var length = minutes >= 10 ? TimeSpan.FromMinutes(1) : TimeSpan.FromSeconds(10);
        await using var bench = await Bench.StartAsync(isQuick: true);
        using var stopping = new CancellationTokenSource();
        var book = new SoakBook();
        var load = Enumerable.Range(0, Writers).Select(i => Task.Run(() => WriteAsync(bench, book, i, stopping.Token)))
            .Concat(Enumerable.Range(0, Readers).Select(i => Task.Run(() => ReadAsync(bench, book, i, stopping.Token)))).ToArray();
        await Task.Delay(minutes >= 10 ? WarmUp : length);
        book.Take();
        var began = Stopwatch.GetTimestamp();
        List<SoakPeriod> periods = [];
        for (var period = 1; period <= minutes * 60 / length.TotalSeconds; period++)
        {
            var wait = (length * period) - Stopwatch.GetElapsedTime(began);
            var first = await Task.WhenAny([Task.Delay(wait > TimeSpan.Zero ? wait : TimeSpan.Zero), .. load]);
            if (load.Contains(first))
            {
                await first;
            }

            periods.Add(await LookAsync(bench, book, Stopwatch.GetElapsedTime(began)));
            Console.WriteLine(periods[^1].Row());
        }

        await stopping.CancelAsync();
        await Task.WhenAll(load);
        var report = new SoakReport(bench.Machine, length, FactsPerSecond, ReadsPerSecond, periods);
        Console.WriteLine(report.Verdicts());
        if (Value(args, "--out") is { } file)
        {
            await File.WriteAllTextAsync(file, report.Markdown(TimeProvider.System.GetUtcNow()));
        }

        return report.IsFlat ? 0 : 1;
    }

    // Units one after the other, each from its opening to its last step, at an even pace.
    private static async Task WriteAsync(Bench bench, SoakBook book, int writer, CancellationToken stopping)
    {
        using var connection = await RawConnection.OpenAsync(bench.Service.At);
        var pace = new Pace(FactsPerSecond / Writers, writer / FactsPerSecond);
        while (!stopping.IsCancellationRequested)
        {
            MadeFact opened;
            MadeFact[] steps;
            lock (bench.Facts)
            {
                (opened, steps) = bench.Facts.Unit();
            }

            foreach (var fact in steps.Prepend(opened))
            {
                await pace.WaitAsync();
                await book.TimeAsync(isWrite: true, connection, Requests.Post("/api/facts", bench.Key, fact.Id, fact.Json), HttpStatusCode.Created);
            }

            book.Built(System.Text.Json.JsonDocument.Parse(opened.Json).RootElement.GetProperty("unit").GetProperty("serial").GetString()!);
        }
    }

    // Questions whose answers do not grow with the number of units.
    private static async Task ReadAsync(Bench bench, SoakBook book, int reader, CancellationToken stopping)
    {
        using var connection = await RawConnection.OpenAsync(bench.Service.At);
        var pace = new Pace(ReadsPerSecond / Readers, reader / ReadsPerSecond);
        for (var number = 0; !stopping.IsCancellationRequested; number++)
        {
            await pace.WaitAsync();
            if (book.Latest is not { } serial)
            {
                continue;
            }

            var request = (number % 4) switch
            {
                0 => Requests.Post($"/api/units/{FactMaker.Item}/{serial}/steps/S-05/readiness", bench.Key, "-", """{"station":"ST-05","person":"P-00"}"""),
                1 => Requests.Get($"/api/units/{FactMaker.Item}/{serial}", bench.Key),
                2 => Requests.Get($"/api/units/{FactMaker.Item}/{serial}/build-record", bench.Key),
                _ => Requests.Get($"/api/yield/steps?item={FactMaker.Item}&by=step,day", bench.Key),
            };
            await book.TimeAsync(isWrite: false, connection, request, HttpStatusCode.OK);
        }
    }

    private static async Task<SoakPeriod> LookAsync(Bench bench, SoakBook book, TimeSpan at)
    {
        await using var connection = new NpgsqlConnection(bench.ServiceDatabase);
        await connection.OpenAsync();
        await using var command = new NpgsqlCommand("select count(*)::int from pg_stat_activity where datname = current_database() and pid <> pg_backend_pid()", connection);
        var sessions = (int)(await command.ExecuteScalarAsync())!;
        var process = $"/proc/{bench.Service.ProcessId.ToString(CultureInfo.InvariantCulture)}";
        var (writes, reads) = book.Take();
        return new(
            at,
            writes,
            reads,
            bench.Service.ResidentMegabytes(),
            await bench.MetricAsync("dotnet_gc_last_collection_heap_size_bytes") / (1 << 20),
            sessions,
            Directory.EnumerateFileSystemEntries($"{process}/fd").Count(),
            Directory.EnumerateDirectories($"{process}/task").Count());
    }

    private static string? Value(string[] args, string name)
    {
        var at = Array.IndexOf(args, name);
        return at >= 0 && at + 1 < args.Length ? args[at + 1] : null;
    }

    /// <summary>Keeps a rate without running after what was missed for longer than a second.</summary>
    private sealed class Pace(double perSecond, double firstAfterSeconds)
    {
        private readonly long _started = Stopwatch.GetTimestamp();
        private double _next = firstAfterSeconds;

        public async Task WaitAsync()
        {
            var now = Stopwatch.GetElapsedTime(_started).TotalSeconds;
            if (_next > now)
            {
                await Task.Delay(TimeSpan.FromSeconds(_next - now));
            }

            _next = Math.Max(_next, now - 1) + (1 / perSecond);
        }
    }
}
