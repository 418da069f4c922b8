using System.Collections.Concurrent;
using Npgsql;
using Traceability.Service.Storage;

namespace Traceability.Service.Ingest;

/// <summary>The one statement that every group brings: what many facts write, and the checks of what must hold.</summary>
/// <remarks>
/// One, because starting a statement costs the server as much as a row or two, which counts where a group is a single fact. Its
/// parts see the state before it, and none needs to see another's rows. Receipts are required first: a repeat is to be told as
/// such and not as a stream that has moved on; then the streams, in the order of their names, so that two instances that meet
/// wait for each other and don't lock each other out. A part without rows is left out, since starting it costs too: there is a
/// text for each set of parts that is met, a handful in practice, and the server plans each once.
/// </remarks>
internal static class GroupStatement
{
    private static readonly Part<Append> Receipts = new("receipts", EventAppender.Receipts, Insert("traceability.receipt", EventAppender.Receipts), StoredRequirement.Receipt);
    private static readonly Part<StreamVersion> Streams = new("streams", EventAppender.Streams, EventAppender.Grow, StoredRequirement.Stream);
    private static readonly Part<UnitDraft> Units = new("units", UnitRowWriter.Units, UnitRowWriter.Update, StoredRequirement.Unit);
    private static readonly Part<Append> Events = new("events", EventAppender.Events, EventAppender.Insert);
    private static readonly Part<(string Subject, string Unit)> Dependencies =
        new("looked_at", UnitRowWriter.Dependencies, $"{Insert("traceability.dependency", UnitRowWriter.Dependencies)} on conflict do nothing");

    private static readonly Part<UnitRowWriter.Owned<Domain.Judging.StepResult>> StepResults =
        new("s", UnitRowWriter.StepResults, $"{Insert("traceability.step_result", UnitRowWriter.StepResults)} returning *", then: $"counted as ({UnitRowWriter.CountSteps})");

    private static readonly Part<UnitRowWriter.Owned<Domain.Judging.MaterialUsage>> Usages =
        new("usages", UnitRowWriter.Usages, Insert("traceability.material_usage", UnitRowWriter.Usages));

    private static readonly Part<UnitRowWriter.Owned<Domain.Judging.ToolUsage>> ToolUsages =
        new("tool_usages", UnitRowWriter.ToolUsages, Insert("traceability.tool_usage", UnitRowWriter.ToolUsages));

    private static readonly Part<UnitRowWriter.Owned<Domain.Judging.MeasuredValue>> Measurements =
        new("measurements", UnitRowWriter.Measurements, Insert("traceability.measurement", UnitRowWriter.Measurements));

    // In the order in which they are filled and numbered.
    private static readonly ImmutableArray<Part> Parts = [Receipts, Streams, Units, Events, Dependencies, StepResults, Usages, ToolUsages, Measurements];

    private static readonly ConcurrentDictionary<int, string> Texts = new();

    /// <summary>Adds the statement for these events, their streams and the units that were judged.</summary>
    public static void AddTo(NpgsqlBatch batch, IReadOnlyList<Append> appends, IReadOnlyList<StreamVersion> streams, IReadOnlyList<UnitDraft> units)
    {
        var command = new NpgsqlBatchCommand();
        var shape = 0;
        Fill(Receipts, appends);
        Fill(Streams, [.. streams.Where(s => s.Before > 0)]);
        Fill(Units, [.. units.Where(u => u.Stored.Judgement > 0)]);
        Fill(Events, appends);
        Fill(Dependencies, [.. units.SelectMany(u => u.NewDependencies.Select(d => (d, u.Name)))]);
        Fill(StepResults, UnitRowWriter.Added(units, UnitTable.StepResult, r => r.StepResults));
        Fill(Usages, UnitRowWriter.Added(units, UnitTable.MaterialUsage, r => r.Usages));
        Fill(ToolUsages, UnitRowWriter.Added(units, UnitTable.ToolUsage, r => r.ToolUsages));
        Fill(Measurements, UnitRowWriter.Added(units, UnitTable.Measurement, r => r.Measurements));
        if (shape != 0)
        {
            command.CommandText = Texts.GetOrAdd(shape, Compose);
            batch.BatchCommands.Add(command);
        }

        void Fill<T>(Part<T> part, IReadOnlyList<T> rows)
        {
            if (rows.Count > 0)
            {
                shape |= 1 << Parts.IndexOf(part);
                part.Columns.Fill(command, rows);
            }
        }
    }

    private static string Compose(int shape)
    {
        var next = 1;
        List<string> parts = [];
        List<string> required = [];
        for (var i = 0; i < Parts.Length; i++)
        {
            if ((shape & (1 << i)) != 0)
            {
                var part = Parts[i];
                parts.AddRange(part.Texts(next));
                required.AddRange(part.Requires(next));
                next += part.ColumnCount;
            }
        }

        return $"with {string.Join(",\n", parts)}\nselect {(required.Count == 0 ? "1" : string.Join(", ", required))}";
    }

    private static string Insert<T>(string table, Columns<T> columns) => $"insert into {table} ({columns.Names}) select * from {{rows}}";

    /// <summary>A part of the statement.</summary>
    /// <param name="name">Its name within the statement.</param>
    /// <param name="sql">What it does; {rows} stands for its rows.</param>
    /// <param name="required">What fails, of <see cref="StoredRequirement"/>, if not each of its rows is written; null: nothing.</param>
    /// <param name="then">A further part that rests on it.</param>
    private abstract class Part(string name, string sql, string? required, string? then)
    {
        public abstract int ColumnCount { get; }

        public IEnumerable<string> Texts(int first)
        {
            yield return $"{name} as ({sql.Replace("{rows}", Rows(first), StringComparison.Ordinal)}{(required is null ? string.Empty : " returning 1")})";
            if (then is not null)
            {
                yield return then;
            }
        }

        public IEnumerable<string> Requires(int first)
        {
            if (required is not null)
            {
                yield return $"traceability.require((select count(*) from {name}) = cardinality(${first}), '{required}')";
            }
        }

        protected abstract string Rows(int first);
    }

    private sealed class Part<T>(string name, Columns<T> columns, string sql, string? required = null, string? then = null) : Part(name, sql, required, then)
    {
        public Columns<T> Columns { get; } = columns;

        public override int ColumnCount => Columns.Count;

        protected override string Rows(int first) => Columns.Rows(first);
    }
}
