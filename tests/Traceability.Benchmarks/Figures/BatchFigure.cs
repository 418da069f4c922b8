using System.Diagnostics;
using Npgsql;

namespace Traceability.Benchmarks.Figures;

/// <summary>Batches of 1,000 facts beside the INSERT of the very rows that they left, into empty copies of the tables.</summary>
/// <remarks>The copies have the same indexes. Their INSERT … SELECT runs inside the database server, one transaction a batch: no client sends the rows.</remarks>
internal static class BatchFigure
{
    private const int Size = 1_000;

    // Which rows of a table are a batch's: by the facts in $1, or by their units in $2.
    private static readonly (string Table, string Rows)[] Tables =
    [
        ("traceability.receipt", "fact_id = any($1)"),
        ("events.mt_events", "id = any($1)"),
        ("traceability.unit", "unit = any($2)"),
        ("traceability.step_result", "record = any($1)"),
        ("traceability.material_usage", "record = any($1)"),
        ("traceability.finding", "record = any($1)"),
        ("traceability.dependency", "unit = any($2)"),
    ];

    public static async Task RunAsync(Bench bench)
    {
        var batches = bench.IsQuick ? 8 : 20;
        await PostAsync(bench);
        var seconds = new List<double>();
        var facts = new List<Guid[]>();
        for (var i = 0; i < batches; i++)
        {
            var (elapsed, ids) = await PostAsync(bench);
            seconds.Add(elapsed);
            facts.Add(ids);
        }

        var limit = await InsertAsync(bench, facts);
        bench.Report.AtLeast("batch of 1,000 facts: facts, insert of the same rows in the server", Size / Middle(seconds), Size / Middle(limit), "1/s", 0.5);
    }

    private static async Task<(double Seconds, Guid[] Ids)> PostAsync(Bench bench)
    {
        var facts = (await bench.PrepareAsync(1, Size))[0];
        var started = Stopwatch.GetTimestamp();
        await bench.PostBatchAsync(facts.Select(f => f.Json));
        return (Stopwatch.GetElapsedTime(started).TotalSeconds, [.. facts.Select(f => Guid.Parse(f.Id))]);
    }

    private static async Task<List<double>> InsertAsync(Bench bench, List<Guid[]> batches)
    {
        await using var connection = new NpgsqlConnection(bench.ServiceDatabase);
        await connection.OpenAsync();
        await RunAsync(connection, "create schema copy");
        foreach (var (table, _) in Tables)
        {
            await RunAsync(connection, $"create table copy.{Name(table)} (like {table} including defaults including indexes)");
        }

        var seconds = new List<double>();
        foreach (var (ids, number) in batches.Select((b, i) => (b, i)))
        {
            foreach (var (table, rows) in Tables)
            {
                await using var stage = new NpgsqlCommand(
                    $"create temp table stage{number}_{Name(table)} as select t.* from {table} t where false", connection);
                await stage.ExecuteNonQueryAsync();
                await using var fill = new NpgsqlCommand(
                    $"insert into stage{number}_{Name(table)} select t.* from {table} t where {(rows.Contains("$1", StringComparison.Ordinal) ? rows : rows.Replace("$2", "array(select distinct substr(stream, 6) from traceability.receipt where fact_id = any($1))", StringComparison.Ordinal))}",
                    connection)
                { Parameters = { new() { Value = ids } } };
                await fill.ExecuteNonQueryAsync();
            }

            var started = Stopwatch.GetTimestamp();
            await RunAsync(connection, $"begin; {string.Join("; ", Tables.Select(t => $"insert into copy.{Name(t.Table)} select * from stage{number}_{Name(t.Table)}"))}; commit");
            seconds.Add(Stopwatch.GetElapsedTime(started).TotalSeconds);
        }

        await RunAsync(connection, "drop schema copy cascade");
        return seconds;
    }

    private static string Name(string table) => table[(table.IndexOf('.', StringComparison.Ordinal) + 1)..];

    private static async Task RunAsync(NpgsqlConnection connection, string sql)
    {
        await using var command = new NpgsqlCommand(sql, connection);
        await command.ExecuteNonQueryAsync();
    }

    private static double Middle(List<double> values) => values.Order().ElementAt(values.Count / 2);
}
