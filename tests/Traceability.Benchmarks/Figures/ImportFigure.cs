using System.Diagnostics;
using System.Net;
using System.Net.Http.Headers;
using System.Text;
using Npgsql;
using Traceability.Benchmarks.Load;

namespace Traceability.Benchmarks.Figures;

/// <summary>An import of history over HTTP beside COPY of the very rows that it left, into empty copies of the tables with the same indexes.</summary>
internal static class ImportFigure
{
    private static readonly string[] Tables =
    [
        "traceability.receipt", "events.mt_streams", "events.mt_events", "traceability.unit", "traceability.step_result", "traceability.unit_result", "traceability.finding",
        "traceability.open_interval", "traceability.material_usage", "traceability.trace_gap", "traceability.installation", "traceability.cure_window", "traceability.tool_usage", "traceability.nonconformance",
        "traceability.measurement", "traceability.interval_result", "traceability.work_gap", "traceability.dependency", "traceability.step_yield_change",
    ];

    public static async Task RunAsync(Bench bench)
    {
        var units = bench.IsQuick ? 4_000 : 20_000;
        await ImportAsync(bench, Make(bench, 3_000).SelectMany(u => u.Steps.Prepend(u.Opened)));

        var made = Make(bench, units);
        await MeasureAsync(bench, "new streams", [.. made.SelectMany(u => u.Steps.Prepend(u.Opened))]);

        // The streams are there with half of their facts; the other half comes afterwards.
        made = Make(bench, units);
        await ImportAsync(bench, made.SelectMany(u => u.Steps[..(FactMaker.Steps / 2)].Prepend(u.Opened)));
        await MeasureAsync(bench, "existing streams", [.. made.SelectMany(u => u.Steps[(FactMaker.Steps / 2)..])]);
    }

    private static List<(MadeFact Opened, MadeFact[] Steps)> Make(Bench bench, int units) => [.. Enumerable.Range(0, units).Select(_ => bench.Facts.Unit())];

    private static async Task MeasureAsync(Bench bench, string what, MadeFact[] facts)
    {
        var before = await CountsAsync(bench);
        var (server, database) = (bench.Service.ProcessorTime(), bench.DatabaseProcessorTime());
        var seconds = await ImportAsync(bench, facts);
        var (serverUsed, databaseUsed) = (bench.Service.ProcessorTime() - server, bench.DatabaseProcessorTime() - database);
        var after = await CountsAsync(bench);
        var rows = Tables.ToDictionary(t => t, t => after[t] - before[t], StringComparer.Ordinal);
        var (copySeconds, copyUsed) = await CopyAsync(bench, rows);
        bench.Report.AtLeast($"import of history, {what}: facts, COPY of the same rows", facts.Length / seconds, facts.Length / copySeconds, "1/s", 0.5);
        bench.Report.Say(string.Create(
            CultureInfo.InvariantCulture,
            $"import, {what}: {rows.Values.Sum() / (double)facts.Length:0.0} rows a fact; processor time a fact: service {serverUsed.TotalMicroseconds / facts.Length:0} µs, database {databaseUsed.TotalMicroseconds / facts.Length:0} µs; COPY alone, database {copyUsed.TotalMicroseconds / facts.Length:0} µs"));
    }

    internal static async Task<double> ImportAsync(Bench bench, IEnumerable<MadeFact> facts)
    {
        var file = Encoding.UTF8.GetBytes(string.Join('\n', facts.Select(f => f.Json)));
        using var client = new HttpClient { BaseAddress = new($"http://{bench.Service.At}"), Timeout = TimeSpan.FromHours(1) };
        client.DefaultRequestHeaders.Authorization = new AuthenticationHeaderValue("Bearer", bench.Key);
        using var content = new ByteArrayContent(file);
        content.Headers.ContentType = new("application/x-ndjson");
        var started = Stopwatch.GetTimestamp();
        using var answer = await client.PostAsync("/api/history", content);
        var text = await answer.Content.ReadAsStringAsync();
        var last = text.TrimEnd().Split('\n')[^1];
        return answer.StatusCode == HttpStatusCode.OK && last.Contains("\"refused\":0", StringComparison.Ordinal) && last.Contains("\"isComplete\":true", StringComparison.Ordinal)
            ? Stopwatch.GetElapsedTime(started).TotalSeconds
            : throw new InvalidOperationException($"The import was answered {text[..Math.Min(2000, text.Length)]}");
    }

    // Rows that were counted by the folding of yields meanwhile are gone from their queue: of these as many are copied as there were step results.
    private static async Task<Dictionary<string, long>> CountsAsync(Bench bench)
    {
        var counts = new Dictionary<string, long>(StringComparer.Ordinal);
        foreach (var table in Tables.Where(t => t != "traceability.step_yield_change"))
        {
            counts[table] = (long)(await bench.ScalarAsync(bench.ServiceDatabase, $"select count(*) from {table}"))!;
        }

        counts["traceability.step_yield_change"] = 0;
        return counts;
    }

    private static async Task<(double Seconds, TimeSpan Used)> CopyAsync(Bench bench, Dictionary<string, long> rows)
    {
        await using var connection = new NpgsqlConnection(bench.ServiceDatabase);
        await connection.OpenAsync();
        await ExecuteAsync(connection, "create schema copy");
        var data = new List<(string Sql, byte[] Bytes)>();
        foreach (var (table, count) in rows.Where(r => r.Value > 0))
        {
            var name = table[(table.IndexOf('.', StringComparison.Ordinal) + 1)..];
            await ExecuteAsync(connection, $"create table copy.{name} (like {table} including defaults including indexes)");
            data.Add(($"copy copy.{name} from stdin (format binary)", await ReadAsync(connection, $"copy (select * from {table} t order by t.ctid desc limit {count.ToString(CultureInfo.InvariantCulture)}) to stdout (format binary)")));
        }

        var database = bench.DatabaseProcessorTime();
        var started = Stopwatch.GetTimestamp();
        await using (var transaction = await connection.BeginTransactionAsync())
        {
            foreach (var (sql, bytes) in data)
            {
                await using var stream = await connection.BeginRawBinaryCopyAsync(sql);
                await stream.WriteAsync(bytes);
            }

            await transaction.CommitAsync();
        }

        var seconds = Stopwatch.GetElapsedTime(started).TotalSeconds;
        var used = bench.DatabaseProcessorTime() - database;
        await ExecuteAsync(connection, "drop schema copy cascade");
        return (seconds, used);
    }

    private static async Task<byte[]> ReadAsync(NpgsqlConnection connection, string sql)
    {
        using var bytes = new MemoryStream();
        await using var stream = await connection.BeginRawBinaryCopyAsync(sql);
        await stream.CopyToAsync(bytes);
        return bytes.ToArray();
    }

    private static async Task ExecuteAsync(NpgsqlConnection connection, string sql)
    {
        await using var command = new NpgsqlCommand(sql, connection) { CommandTimeout = 0 };
        await command.ExecuteNonQueryAsync();
    }
}
