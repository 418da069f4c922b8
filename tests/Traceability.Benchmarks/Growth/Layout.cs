namespace Traceability.Benchmarks.Growth;

/// <summary>A form of the large tables.</summary>
internal enum Layout
{
    /// <summary>As the migrations make them.</summary>
    One,

    /// <summary>16 partitions by a hash of the unit or stream (receipts: of the fact's id, which must stay unique).</summary>
    Hash,

    /// <summary>A partition a month, by the time that a row is about; uniqueness holds within a month only.</summary>
    Month,
}

/// <summary>Brings the large tables, while they hold next to nothing, into another form.</summary>
internal static class Layouts
{
    /// <summary>Partitions of <see cref="Layout.Hash"/>.</summary>
    public const int Hashed = 16;

    /// <summary>The tables that grow with every fact.</summary>
    public static readonly ImmutableArray<LargeTable> Tables =
    [
        new("events", "mt_events", "stream_id", "timestamp",
            [new("pkey_mt_events_seq_id", "seq_id", IsPrimary: true, IsUnique: true), new("pk_mt_events_stream_and_version", "stream_id, version", IsPrimary: false, IsUnique: true)]),
        new("traceability", "receipt", "fact_id", "recorded_at", [new("receipt_pkey", "fact_id", IsPrimary: true, IsUnique: true)]),
        new("traceability", "step_result", "unit", "completed_at",
            [new("step_result_pkey", "unit, row_id", IsPrimary: true, IsUnique: true), new("step_result_person", "person", IsPrimary: false, IsUnique: false)]),
        new("traceability", "material_usage", "unit", "used_from",
            [
                new("material_usage_pkey", "unit, row_id", IsPrimary: true, IsUnique: true),
                new("material_usage_lot", "item, lot", IsPrimary: false, IsUnique: false),
                new("material_usage_time", "item, used_from", IsPrimary: false, IsUnique: false),
            ]),
        new("traceability", "dependency", "unit", null, [new("dependency_pkey", "subject, unit", IsPrimary: true, IsUnique: true)]),
    ];

    /// <summary>The statements, to be run in one transaction.</summary>
    /// <param name="layout">The form.</param>
    /// <param name="firstMonth">The first month that has a partition.</param>
    /// <param name="months">How many.</param>
    public static string Sql(Layout layout, DateOnly firstMonth, int months)
    {
        if (layout == Layout.One)
        {
            return "select 1";
        }

        // The sequence belongs to the old table's column and would go with it.
        List<string> sql = ["alter sequence events.mt_events_sequence owned by none"];
        foreach (var table in Tables.Where(t => layout == Layout.Hash || t.Time is not null))
        {
            var key = layout == Layout.Hash ? table.Key : table.Time!;
            var (full, old) = ($"{table.Schema}.{table.Name}", $"{table.Schema}.{table.Name}_before");
            sql.Add($"alter table {full} rename to {table.Name}_before");
            sql.AddRange(table.Indexes.Select(i => $"alter index {table.Schema}.{i.Name} rename to {i.Name}_before"));
            sql.Add($"create table {full} (like {old} including defaults) partition by {(layout == Layout.Hash ? "hash" : "range")} ({key})");
            sql.AddRange(Partitions(layout, full, firstMonth, months));
            foreach (var index in table.Indexes)
            {
                // A unique index must hold the key of the partitions.
                var columns = !index.IsUnique || index.Columns.Split(", ").Contains(key, StringComparer.Ordinal) ? index.Columns : $"{index.Columns}, {key}";
                sql.Add(index.IsPrimary
                    ? $"alter table {full} add constraint {index.Name} primary key ({columns})"
                    : $"create {(index.IsUnique ? "unique " : string.Empty)}index {index.Name} on {full} ({columns})");
            }

            sql.Add($"insert into {full} select * from {old}");
            sql.Add($"drop table {old}");
        }

        return string.Join(";\n", sql);
    }

    private static IEnumerable<string> Partitions(Layout layout, string table, DateOnly firstMonth, int months) =>
        layout == Layout.Hash
            ? Enumerable.Range(0, Hashed).Select(i => $"create table {table}_p{Number(i)} partition of {table} for values with (modulus {Number(Hashed)}, remainder {Number(i)})")
            : Enumerable.Range(0, months).Select(i =>
                $"create table {table}_p{Number(i)} partition of {table} for values from ('{Day(firstMonth.AddMonths(i))}') to ('{Day(firstMonth.AddMonths(i + 1))}')");

    private static string Number(int value) => value.ToString(CultureInfo.InvariantCulture);

    private static string Day(DateOnly day) => day.ToString("yyyy-MM-dd", CultureInfo.InvariantCulture) + " 00:00Z";
}

/// <summary>A table that grows with every fact.</summary>
/// <param name="Schema">Its schema.</param>
/// <param name="Name">Its name.</param>
/// <param name="Key">The column by whose hash it can be parted.</param>
/// <param name="Time">The column by which it can be parted into months; null if it has none.</param>
/// <param name="Indexes">Its indexes.</param>
internal sealed record LargeTable(string Schema, string Name, string Key, string? Time, ImmutableArray<LargeIndex> Indexes);

/// <summary>An index of a large table.</summary>
internal sealed record LargeIndex(string Name, string Columns, bool IsPrimary, bool IsUnique);
