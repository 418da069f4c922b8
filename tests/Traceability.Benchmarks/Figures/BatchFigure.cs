using System.Diagnostics;
using Npgsql;

namespace Traceability.Benchmarks.Figures;

/// <summary>Batches of 1,000 facts beside multi-row INSERTs of the very rows that they left, into empty copies of the tables.</summary>
/// <remarks>
/// The copies have the same indexes. The rows come from a client, column by column in binary arrays, one statement a table, all
/// of a batch in one round trip and one transaction. Beside it, for comparison, an INSERT … SELECT within the server.
/// </remarks>
internal static class BatchFigure
{
    private const int Size = 1_000;

    // Asked for by itself, the service has just started, and would be measured compiling.
    private const int WarmUps = 20;

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
        for (var i = 0; i < WarmUps; i++)
        {
            await PostAsync(bench);
        }

        var seconds = new List<double>();
        var facts = new List<Guid[]>();
        for (var i = 0; i < batches; i++)
        {
            var (elapsed, ids) = await PostAsync(bench);
            seconds.Add(elapsed);
            facts.Add(ids);
        }

        var (sent, within) = await InsertAsync(bench, facts);
        bench.Report.AtLeast("batch of 1,000 facts: facts, multi-row insert of the same rows", Size / Middle(seconds), Size / Middle(sent), "1/s", 0.5);
        bench.Report.Note("batch of 1,000 facts: facts, insert of the same rows within the server", Size / Middle(seconds), Size / Middle(within), "1/s");
    }

    private static async Task<(double Seconds, Guid[] Ids)> PostAsync(Bench bench)
    {
        var facts = (await bench.PrepareAsync(1, Size))[0];
        var started = Stopwatch.GetTimestamp();
        await bench.PostBatchAsync(facts.Select(f => f.Json));
        return (Stopwatch.GetElapsedTime(started).TotalSeconds, [.. facts.Select(f => Guid.Parse(f.Id))]);
    }

    private static async Task<(List<double> Sent, List<double> Within)> InsertAsync(Bench bench, List<Guid[]> batches)
    {
        await using var connection = new NpgsqlConnection(bench.ServiceDatabase);
        await connection.OpenAsync();
        foreach (var schema in (string[])["copy", "other"])
        {
            await RunAsync(connection, $"create schema {schema}");
            foreach (var (table, _) in Tables)
            {
                await RunAsync(connection, $"create table {schema}.{Name(table)} (like {table} including defaults including indexes)");
            }
        }

        List<double> sent = [];
        List<double> within = [];
        foreach (var (ids, number) in batches.Select((b, i) => (b, i)))
        {
            await using var batch = new NpgsqlBatch(connection);
            foreach (var (table, rows) in Tables)
            {
                await StageAsync(connection, table, rows, ids, number);
                batch.BatchCommands.Add(await SendingAsync(connection, table, number));
            }

            var started = Stopwatch.GetTimestamp();
            await batch.ExecuteNonQueryAsync();
            sent.Add(Stopwatch.GetElapsedTime(started).TotalSeconds);
            started = Stopwatch.GetTimestamp();
            await RunAsync(connection, $"begin; {string.Join("; ", Tables.Select(t => $"insert into other.{Name(t.Table)} select * from {Stage(t.Table, number)}"))}; commit");
            within.Add(Stopwatch.GetElapsedTime(started).TotalSeconds);
        }

        await RunAsync(connection, "drop schema copy cascade; drop schema other cascade");
        return (sent, within);
    }

    private static async Task StageAsync(NpgsqlConnection connection, string table, string rows, Guid[] ids, int number)
    {
        await RunAsync(connection, $"create temp table {Stage(table, number)} as select t.* from {table} t where false");
        await using var fill = new NpgsqlCommand(
            $"insert into {Stage(table, number)} select t.* from {table} t where {(rows.Contains("$1", StringComparison.Ordinal) ? rows : rows.Replace("$2", "array(select distinct substr(stream, 6) from traceability.receipt where fact_id = any($1))", StringComparison.Ordinal))}",
            connection)
        { Parameters = { new() { Value = ids } } };
        await fill.ExecuteNonQueryAsync();
    }

    // The staged rows, read to the client, as one statement that sends them.
    private static async Task<NpgsqlBatchCommand> SendingAsync(NpgsqlConnection connection, string table, int number)
    {
        await using var select = new NpgsqlCommand($"select * from {Stage(table, number)}", connection);
        await using var reader = await select.ExecuteReaderAsync();
        var columns = await reader.GetColumnSchemaAsync();
        var rows = new List<object?[]>();
        while (await reader.ReadAsync())
        {
            rows.Add([.. Enumerable.Range(0, columns.Count).Select(c => reader.IsDBNull(c) ? null : reader.GetValue(c))]);
        }

        var types = columns.Select(c => c.DataTypeName!.Split('(')[0] + "[]").ToArray();
        var command = new NpgsqlBatchCommand(
            $"insert into copy.{Name(table)} ({string.Join(", ", columns.Select(c => c.ColumnName))}) select * from unnest({string.Join(", ", types.Select((t, i) => $"${i + 1}::{t}"))})");
        for (var c = 0; c < columns.Count; c++)
        {
            var type = columns[c].DataType!;
            var values = Array.CreateInstance(type.IsValueType ? typeof(Nullable<>).MakeGenericType(type) : type, rows.Count);
            for (var r = 0; r < rows.Count; r++)
            {
                values.SetValue(rows[r][c], r);
            }

            command.Parameters.Add(new() { Value = values, DataTypeName = types[c] });
        }

        return command;
    }

    private static string Stage(string table, int number) => $"stage{number}_{Name(table)}";

    private static string Name(string table) => table[(table.IndexOf('.', StringComparison.Ordinal) + 1)..];

    private static async Task RunAsync(NpgsqlConnection connection, string sql)
    {
        await using var command = new NpgsqlCommand(sql, connection);
        await command.ExecuteNonQueryAsync();
    }

    private static double Middle(List<double> values) => values.Order().ElementAt(values.Count / 2);
}
