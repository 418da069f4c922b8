using System.Diagnostics;
using System.Runtime.InteropServices;
using System.Text.RegularExpressions;
using Npgsql;
using Traceability.Benchmarks.Load;
using Traceability.Benchmarks.Servers;
using Traceability.Postgres;

namespace Traceability.Benchmarks.Figures;

/// <summary>One run of the figures: a durable database server, the service on it, and the bare server on it.</summary>
internal sealed partial class Bench : IAsyncDisposable
{
    private readonly EmbeddedPostgres _postgres;

    private Bench(EmbeddedPostgres postgres, string folder, bool isQuick, string machine)
    {
        _postgres = postgres;
        Folder = folder;
        IsQuick = isQuick;
        Machine = machine;
        Report = new(machine);
        Facts = new(20_260_101, TimeProvider.System.GetUtcNow());
    }

    public string Folder { get; }

    public bool IsQuick { get; }

    public string Machine { get; }

    /// <summary>Whether the servers have been under load long enough to measure them.</summary>
    public bool IsWarm { get; set; }

    public Report Report { get; }

    public FactMaker Facts { get; }

    /// <summary>The connection string of the service's database.</summary>
    public string ServiceDatabase { get; private set; } = string.Empty;

    /// <summary>The connection string of the bare server's database.</summary>
    public string BareDatabase { get; private set; } = string.Empty;

    public ServerChild Service { get; private set; } = null!;

    public ServerChild Bare { get; private set; } = null!;

    public string Key { get; private set; } = string.Empty;

    public static async Task<Bench> StartAsync(bool isQuick)
    {
        var folder = Directory.CreateTempSubdirectory("traceability-figures-").FullName;
        if (!OperatingSystem.IsWindows())
        {
            // Another user runs the database server when this one is root.
            File.SetUnixFileMode(folder, (UnixFileMode)0b111_101_101);
        }

        var postgres = await EmbeddedPostgres.StartAsync(new() { DataFolder = Path.Combine(folder, "db"), Durability = PostgresDurability.Full });
        var bench = new Bench(postgres, folder, isQuick, await DescribeAsync(postgres));
        Console.WriteLine(bench.Machine);
        bench.BareDatabase = await CreateAsync(postgres, "bare");
        bench.ServiceDatabase = await CreateAsync(postgres, "service");
        await bench.ExecuteAsync(bench.BareDatabase, "create table bare (id uuid primary key, data jsonb not null)");
        bench.Bare = await ServerChild.StartAsync(url => [BareServer.Name, bench.BareDatabase, url], Path.Combine(folder, "bare.log"));
        await bench.StartServiceAsync();
        var maker = bench.Facts.Definitions().Select(f => Requests.Post("/api/facts", bench.Key, f.Id, f.Json)).ToArray();
        await LoadRun.RunAsync(bench.Service.At, [maker]);
        return bench;
    }

    public async Task StartServiceAsync()
    {
        var data = Path.Combine(Folder, "data");
        Service = await ServerChild.StartAsync(
            url => [ServiceServer.Name, "--urls", url, $"--ConnectionStrings:Traceability={ServiceDatabase}", $"--Postgres:DataFolder={data}"],
            Path.Combine(Folder, "service.log"));
        Key = (await File.ReadAllTextAsync(Path.Combine(data, "administrator-key"))).Trim();
    }

    /// <summary>Whether <see cref="RestartAsync"/> can make the kernel forget its page cache.</summary>
    public bool DropsCache { get; private set; } = OperatingSystem.IsLinux() && Environment.IsPrivilegedProcess;

    /// <summary>Starts the database server and the service again, so that neither remembers anything; the kernel forgets too, where it may be told to.</summary>
    public async Task RestartAsync()
    {
        Service.Dispose();
        NpgsqlConnection.ClearAllPools();
        var before = _postgres.ProcessId;

        // A fast shutdown; whoever keeps the server starts it again.
        using (var kill = Process.Start("kill", ["-INT", before.ToString(CultureInfo.InvariantCulture)]))
        {
            await kill.WaitForExitAsync();
        }

        for (var tries = 0; _postgres.ProcessId == before; tries++)
        {
            if (tries > 600)
            {
                throw new InvalidOperationException("The database server did not come back within a minute.");
            }

            await Task.Delay(100);
        }

        try
        {
            if (DropsCache)
            {
                await File.WriteAllTextAsync("/proc/sys/vm/drop_caches", "1");
            }
        }
        catch (Exception e) when (e is IOException or UnauthorizedAccessException)
        {
            DropsCache = false;
        }

        await StartServiceAsync();
    }

    /// <summary>Opens units by batch posts and gives the posts of their steps, dealt out to the connections.</summary>
    public async Task<MadeFact[][]> PrepareAsync(int connections, int posts)
    {
        var each = Math.Max(1, posts / connections / FactMaker.Steps);
        var lists = new MadeFact[connections][];
        var opened = new List<string>();
        for (var i = 0; i < connections; i++)
        {
            List<MadeFact> steps = [];
            for (var u = 0; u < each; u++)
            {
                var unit = Facts.Unit();
                opened.Add(unit.Opened.Json);
                steps.AddRange(unit.Steps);
            }

            lists[i] = [.. steps];
        }

        await PostBatchAsync(opened);
        return lists;
    }

    /// <summary>Posts facts as NDJSON; anything but 201 on a line is an error.</summary>
    public async Task PostBatchAsync(IEnumerable<string> facts)
    {
        foreach (var lines in facts.Chunk(1000))
        {
            using var connection = await RawConnection.OpenAsync(Service.At);
            await connection.SendAsync(Requests.Post("/api/facts/batch", Key, "-", string.Join('\n', lines) + "\n", "application/x-ndjson"));
            var stored = Created().Count(connection.LastAnswer);
            if (stored != lines.Length)
            {
                throw new InvalidOperationException($"Of a batch of {lines.Length} {stored} were stored: {connection.LastAnswer[..Math.Min(2000, connection.LastAnswer.Length)]}");
            }
        }
    }

    /// <summary>One value of /metrics, summed over its labels; the name as Prometheus writes it.</summary>
    public async Task<double> MetricAsync(string name)
    {
        using var connection = await RawConnection.OpenAsync(Service.At);
        await connection.SendAsync(Requests.Get("/metrics", Key));
        return connection.LastAnswer.Split('\n')
            .Where(l => l.StartsWith(name, StringComparison.Ordinal) && l.Length > name.Length && l[name.Length] is ' ' or '{')
            .Sum(l => double.Parse(l[(l.LastIndexOf('}') + 1)..].Trim().Split(' ')[0], CultureInfo.InvariantCulture));
    }

    /// <summary>Processor time that the database server's processes have used so far.</summary>
    public TimeSpan DatabaseProcessorTime()
    {
        var ticks = 0L;
        foreach (var folder in Directory.EnumerateDirectories("/proc"))
        {
            if (int.TryParse(Path.GetFileName(folder), NumberStyles.None, CultureInfo.InvariantCulture, out var process))
            {
                ticks += TicksOf(process);
            }
        }

        // The kernel counts hundredths of a second here.
        return TimeSpan.FromMilliseconds(ticks * 10);
    }

    public async Task ExecuteAsync(string database, string sql)
    {
        await using var connection = new NpgsqlConnection(database);
        await connection.OpenAsync();
        await using var command = new NpgsqlCommand(sql, connection) { CommandTimeout = 0 };
        await command.ExecuteNonQueryAsync();
    }

    public async Task<object?> ScalarAsync(string database, string sql)
    {
        await using var connection = new NpgsqlConnection(database);
        await connection.OpenAsync();
        await using var command = new NpgsqlCommand(sql, connection) { CommandTimeout = 0 };
        return await command.ExecuteScalarAsync();
    }

    public async ValueTask DisposeAsync()
    {
        Service?.Dispose();
        Bare?.Dispose();
        NpgsqlConnection.ClearAllPools();
        await _postgres.DisposeAsync();
        Directory.Delete(Folder, recursive: true);
    }

    private long TicksOf(int process)
    {
        try
        {
            var line = File.ReadAllText($"/proc/{process.ToString(CultureInfo.InvariantCulture)}/stat");
            var fields = line[(line.LastIndexOf(')') + 2)..].Split(' ');

            // What those that have ended used is counted by the server's first process.
            var own = process == _postgres.ProcessId ? fields[11..15] : fields[1] == _postgres.ProcessId.ToString(CultureInfo.InvariantCulture) ? fields[11..13] : [];
            return own.Sum(t => long.Parse(t, CultureInfo.InvariantCulture));
        }
        catch (IOException)
        {
            // It has ended since it was listed.
            return 0;
        }
    }

    private static async Task<string> CreateAsync(EmbeddedPostgres postgres, string name)
    {
        await using var connection = new NpgsqlConnection(postgres.SuperuserConnectionString);
        await connection.OpenAsync();
        await using var command = new NpgsqlCommand($"create database {name}", connection);
        await command.ExecuteNonQueryAsync();
        return new NpgsqlConnectionStringBuilder(postgres.SuperuserConnectionString) { Database = name }.ConnectionString;
    }

    private static async Task<string> DescribeAsync(EmbeddedPostgres postgres)
    {
        await using var connection = new NpgsqlConnection(postgres.SuperuserConnectionString);
        await connection.OpenAsync();
        await using var command = new NpgsqlCommand(
            "select 'PostgreSQL ' || current_setting('server_version') || ', fsync ' || current_setting('fsync') || ', synchronous_commit ' || current_setting('synchronous_commit') || ', full_page_writes ' || current_setting('full_page_writes') || ', wal_sync_method ' || current_setting('wal_sync_method') || ', shared_buffers ' || current_setting('shared_buffers')",
            connection);
        var server = await command.ExecuteScalarAsync();
        var processor = File.ReadLines("/proc/cpuinfo").FirstOrDefault(l => l.StartsWith("model name", StringComparison.Ordinal))?.Split(':')[1].Trim() ?? "unknown";
        var memory = GC.GetGCMemoryInfo().TotalAvailableMemoryBytes >> 20;
        return string.Create(
            CultureInfo.InvariantCulture,
            $"Machine: {Environment.ProcessorCount} cores ({processor}), {memory} MB, Linux {Environment.OSVersion.Version}, .NET {RuntimeInformation.FrameworkDescription.Split(' ')[^1]}; {server}; client and servers share the cores");
    }

    [GeneratedRegex("\"status\":201", RegexOptions.NonBacktracking)]
    private static partial Regex Created();
}
