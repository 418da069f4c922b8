using Npgsql;
using Traceability.Service.Storage;

namespace Traceability.Service.Ingest;

/// <summary>The one statement that every group brings: what nearly every fact writes, and the checks of what must hold.</summary>
/// <remarks>
/// One, because starting a statement costs the server as much as a row or two, which counts where a group is a single fact. Its
/// parts see the state before it, and none needs to see another's rows. Receipts are required first: a repeat is to be told as
/// such and not as a stream that has moved on; then the streams, in the order of their names, so that two instances that meet
/// wait for each other and don't lock each other out.
/// </remarks>
internal static class GroupStatement
{
    private static readonly string Sql = Compose();

    /// <summary>The statement for these events, their streams and the units that were judged.</summary>
    public static NpgsqlBatchCommand Of(IReadOnlyList<Append> appends, IReadOnlyList<StreamVersion> streams, IReadOnlyList<UnitDraft> units)
    {
        var command = new NpgsqlBatchCommand(Sql);
        EventAppender.Receipts.Fill(command, appends);
        EventAppender.Streams.Fill(command, [.. streams.Where(s => s.Before > 0)]);
        UnitRowWriter.Units.Fill(command, [.. units.Where(u => u.Stored.Judgement > 0)]);
        EventAppender.Events.Fill(command, appends);
        UnitRowWriter.Dependencies.Fill(command, [.. units.SelectMany(u => u.NewDependencies.Select(d => (d, u.Name)))]);
        UnitRowWriter.StepResults.Fill(command, UnitRowWriter.Added(units, UnitTable.StepResult, r => r.StepResults));
        UnitRowWriter.Usages.Fill(command, UnitRowWriter.Added(units, UnitTable.MaterialUsage, r => r.Usages));
        return command;
    }

    private static string Compose()
    {
        var next = 1;
        var receipts = next;
        var parts = new List<string> { Part("receipts", EventAppender.Receipts, $"{Insert("traceability.receipt", EventAppender.Receipts)} returning 1") };
        var streams = next;
        parts.Add(Part("streams", EventAppender.Streams, $"{EventAppender.Grow} returning 1"));
        var units = next;
        parts.Add(Part("units", UnitRowWriter.Units, $"{UnitRowWriter.Update} returning 1"));
        parts.Add(Part("events", EventAppender.Events, EventAppender.Insert));
        parts.Add(Part("looked_at", UnitRowWriter.Dependencies, $"{Insert("traceability.dependency", UnitRowWriter.Dependencies)} on conflict do nothing"));
        parts.Add(Part("s", UnitRowWriter.StepResults, $"{Insert("traceability.step_result", UnitRowWriter.StepResults)} returning *"));
        parts.Add($"counted as ({UnitRowWriter.CountSteps})");
        parts.Add(Part("usages", UnitRowWriter.Usages, Insert("traceability.material_usage", UnitRowWriter.Usages)));
        return $"with {string.Join(",\n", parts)}\nselect {Require("receipts", receipts, StoredRequirement.Receipt)}, {Require("streams", streams, StoredRequirement.Stream)}, {Require("units", units, StoredRequirement.Unit)}";

        string Part<T>(string name, Columns<T> columns, string sql)
        {
            var rows = columns.Rows(next);
            next += columns.Count;
            return $"{name} as ({sql.Replace("{rows}", rows, StringComparison.Ordinal)})";
        }

        static string Insert<T>(string table, Columns<T> columns) => $"insert into {table} ({columns.Names}) select * from {{rows}}";

        static string Require(string part, int first, string what) => $"traceability.require((select count(*) from {part}) = cardinality(${first}), '{what}')";
    }
}
