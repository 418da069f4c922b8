using System.Text.Json;
using Npgsql;
using Traceability.Domain.Judging;
using Traceability.Domain.Nonconformances;
using Traceability.Domain.ProductUnits;
using Traceability.Domain.Routings;
using Traceability.Service.Storage;

namespace Traceability.Service.Ingest.Bulk;

/// <summary>A judged unit whose rows are to be written.</summary>
/// <param name="Unit">The unit.</param>
/// <param name="Rows">The rows of its judgement.</param>
/// <param name="Judgement">The number that its row is to carry.</param>
/// <param name="Dependencies">The streams to watch for it that are not stored yet.</param>
/// <param name="Stored">The identities of rows that the tables hold already, by <see cref="UnitTable"/>; null for none.</param>
internal sealed record BulkUnit(
    ProductUnit Unit, UnitRows Rows, long Judgement, IReadOnlyCollection<string> Dependencies, ImmutableArray<long[]>? Stored = null)
{
    /// <summary>The unit's name: item/serial.</summary>
    public string Name { get; } = Unit.Key.ToString();
}

/// <summary>The tables that hold what is derived of a unit, as binary COPY writes them.</summary>
/// <remarks>Tests hold the rows against those of single posts, whose columns <see cref="UnitRowWriter"/> says.</remarks>
internal static class UnitTables
{
    /// <summary>A row of a table with a key of unit and row.</summary>
    internal readonly record struct Owned<T>(BulkUnit Owner, Row<T> Row)
    {
        public string Item => Owner.Unit.Key.Item.Value;

        public UnitStatus Status => Owner.Rows.Judgement.Status;

        public T Value => Row.Value;
    }

    /// <summary>The tables with rows of a unit, and the column that names the unit.</summary>
    public static ImmutableArray<(string Table, string Key)> Keys { get; } =
    [
        ("unit", "unit"), ("step_result", "unit"), ("unit_result", "unit"), ("finding", "unit"), ("open_interval", "unit"),
        ("material_usage", "unit"), ("trace_gap", "unit"), ("installation", "parent"), ("cure_window", "unit"), ("tool_usage", "unit"), ("nonconformance", "unit"),
        ("measurement", "unit"), ("interval_result", "unit"), ("work_gap", "unit"), ("shipment", "unit"), ("dependency", "unit"),
    ];

    public static CopyTable<BulkUnit> Units { get; } = new CopyTable<BulkUnit>("unit")
        .Text("unit", u => u.Name)
        .Text("item", u => u.Unit.Key.Item.Value)
        .Text("serial", u => u.Unit.Key.Serial.Value)
        .Text("variant", u => Status(u).Variant?.Value)
        .Text("lot", u => Status(u).Lot?.Value)
        .Text("revision", u => Status(u).Revision?.Value)
        .Time("opened_at", u => Status(u).OpenedAt)
        .Text("place", u => EnumNames<Place>.Of(Status(u).Place))
        .Text("step", u => Status(u).Step?.Value)
        .Time("since", u => Status(u).Since)
        .Text("consignee", u => Status(u).Consignee)
        .Time("ended_at", u => Status(u).EndedAt)
        .Boolean("has_unreadable", u => Status(u).HasUnreadable)
        .Text("holds", u => Status(u).Holds)
        .Integer("version", u => u.Unit.Version)
        .Bigint("judgement", u => u.Judgement);

    public static CopyTable<Owned<StepResult>> StepResults { get; } = Table<StepResult>("step_result")
        .Text("item", r => r.Item)
        .Text("variant", r => r.Status.Variant?.Value ?? string.Empty)
        .Text("revision", r => r.Value.Revision?.Value ?? string.Empty)
        .Text("step", r => r.Value.Step.Value)
        .Integer("attempt", r => r.Value.Attempt)
        .Uuid("record", r => r.Value.Record)
        .Time("started_at", r => r.Value.StartedAt)
        .Time("completed_at", r => r.Value.CompletedAt)
        .Date("day", r => r.Value.Day)
        .Text("station", r => r.Value.Station?.Value ?? string.Empty)
        .Text("person", r => r.Value.Person?.Value ?? string.Empty)
        .Boolean("is_rework", r => r.Value.IsRework)
        .Boolean("passed", r => r.Value.Passed)
        .Integer("defects", r => r.Value.Defects)
        .Integer("opportunities", r => r.Value.Opportunities)
        .Time("earliest", r => r.Value.Earliest)
        .Time("latest", r => r.Value.Latest);

    public static CopyTable<Owned<UnitResultRow>> UnitResults { get; } = Table<UnitResultRow>("unit_result")
        .Text("item", r => r.Item)
        .Text("variant", r => r.Status.Variant?.Value ?? string.Empty)
        .Text("revision", r => r.Status.Revision?.Value ?? string.Empty)
        .Date("day", r => r.Value.Day)
        .Boolean("is_scrapped", r => r.Value.IsScrapped)
        .Boolean("passed", r => r.Value.Passed);

    public static CopyTable<Owned<Finding>> Findings { get; } = Table<Finding>("finding")
        .Text("item", r => r.Item)
        .Text("kind", r => r.Value.Kind)
        .Text("rule", r => r.Value.Rule)
        .Text("step", r => r.Value.Step?.Value ?? string.Empty)
        .Integer("attempt", r => r.Value.Attempt)
        .Uuid("record", r => r.Value.Record)
        .Time("at", r => r.Value.At)
        .Boolean("stops", r => r.Value.Policy.Enforcement == Enforcement.Stop)
        .Boolean("is_defect", r => r.Value.Policy.CountsAsDefect)
        .Text("message", r => r.Value.Message)
        .Json("evidence", r => JsonSerializer.SerializeToUtf8Bytes(r.Value.Evidence, EventJson.Options))
        .Text("concession", r => r.Value.Concession?.Value);

    public static CopyTable<Owned<OpenInterval>> OpenIntervals { get; } = Table<OpenInterval>("open_interval")
        .Text("item", r => r.Item)
        .Text("rule", r => r.Value.Rule.Value)
        .Text("name", r => r.Value.Name)
        .Text("from_step", r => r.Value.FromStep.Value)
        .Text("to_step", r => r.Value.ToStep.Value)
        .Time("started_at", r => r.Value.StartedAt)
        .Interval("uncertainty", r => r.Value.Uncertainty)
        .Time("ready_at", r => r.Value.ReadyAt)
        .Time("overdue_at", r => r.Value.OverdueAt)
        .Boolean("stops", r => r.Value.Policy.Enforcement == Enforcement.Stop)
        .Boolean("is_defect", r => r.Value.Policy.CountsAsDefect)
        .Text("assumption", r => r.Value.Assumption)
        .Time("assumed_until", r => r.Value.AssumedUntil)
        .Time("may_be_overdue_at", r => r.Value.MayBeOverdueAt)
        .Time("surely_overdue_at", r => r.Value.SurelyOverdueAt);

    public static CopyTable<Owned<CureWindow>> CureWindows { get; } = Table<CureWindow>("cure_window")
        .Text("place", r => r.Value.Place.Value)
        .Time("looked_from", r => r.Value.From)
        .Time("looked_to", r => r.Value.To);

    public static CopyTable<Owned<MaterialUsage>> Usages { get; } = Table<MaterialUsage>("material_usage")
        .Text("item", r => r.Value.Lot.Item.Value)
        .Text("lot", r => r.Value.Lot.Lot.Value)
        .Text("container", r => r.Value.Container?.Value)
        .Boolean("is_one_of", r => r.Value.IsOneOf)
        .Text("step", r => r.Value.Step?.Value)
        .Uuid("record", r => r.Value.Record)
        .Text("requirement", r => r.Value.Requirement?.Value)
        .Time("used_from", r => r.Value.From)
        .Time("used_to", r => r.Value.To)
        .Text("station", r => r.Value.Station?.Value)
        .Text("quantity", r => r.Value.Quantity?.ToString());

    public static CopyTable<Owned<GapRow>> Gaps { get; } = Table<GapRow>("trace_gap")
        .Text("item", r => r.Value.Item.Value)
        .Text("kind", r => EnumNames<GapKind>.Of(r.Value.Gap.Kind))
        .Text("reason", r => EnumNames<GapReason>.Of(r.Value.Gap.Reason))
        .Text("lot", r => r.Value.Gap.Lot?.Lot.Value)
        .Text("step", r => r.Value.Gap.Step?.Value)
        .Uuid("record", r => r.Value.Gap.Record)
        .Text("requirement", r => r.Value.Gap.Requirement?.Value)
        .Time("used_from", r => r.Value.Gap.From)
        .Time("used_to", r => r.Value.Gap.To)
        .Text("station", r => r.Value.Gap.Station?.Value);

    public static CopyTable<Owned<Installation>> Installations { get; } = Table<Installation>("installation", "parent")
        .Text("component", r => r.Value.Component.ToString())
        .Text("position", r => r.Value.Position.Value)
        .Text("step", r => r.Value.Step?.Value)
        .Uuid("record", r => r.Value.Record)
        .Time("installed_from", r => r.Value.From)
        .Time("installed_to", r => r.Value.To)
        .Interval("uncertainty", r => InstallationColumns.Uncertainty(r.Value));

    public static CopyTable<Owned<ToolUsage>> ToolUsages { get; } = Table<ToolUsage>("tool_usage")
        .Text("tool", r => r.Value.Tool.Value)
        .Text("setting", r => r.Value.Setting?.Value)
        .Text("requirement", r => r.Value.Requirement?.Value)
        .Text("step", r => r.Value.Step.Value)
        .Integer("attempt", r => r.Value.Attempt)
        .Uuid("record", r => r.Value.Record)
        .Time("at", r => r.Value.At)
        .Time("used_from", r => r.Value.From)
        .Time("used_to", r => r.Value.To)
        .Text("station", r => r.Value.Station?.Value);

    public static CopyTable<Owned<Nonconformance>> Nonconformances { get; } = Table<Nonconformance>("nonconformance")
        .Text("item", r => r.Item)
        .Text("id", r => r.Value.Id.Value)
        .Text("state", r => EnumNames<NonconformanceState>.Of(r.Value.State))
        .Boolean("is_open", r => r.Value.IsOpen)
        .Text("kind", r => r.Value.Kind)
        .Text("rule", r => r.Value.Rule)
        .Text("defect", r => NonconformanceColumns.Defect(r.Value))
        .Text("step", r => r.Value.Step?.Value)
        .Integer("attempt", r => r.Value.Attempt)
        .Uuid("record", r => r.Value.Record)
        .Time("at", r => r.Value.At)
        .Text("message", r => r.Value.Message)
        .Text("disposition", r => NonconformanceColumns.Disposition(r.Value))
        .Text("decision", r => r.Value.Decision?.ToString())
        .Time("decided_at", r => r.Value.DecidedAt)
        .Text("decided_by", r => r.Value.DecidedBy?.Value)
        .Text("concession", r => r.Value.Concession?.Value)
        .Text("awaited", r => NonconformanceColumns.Awaited(r.Value))
        .Time("ended_at", r => r.Value.EndedAt)
        .Text("ended_by", r => r.Value.EndedBy?.ToString());

    public static CopyTable<Owned<MeasuredValue>> Measurements { get; } = Table<MeasuredValue>("measurement")
        .Text("item", r => r.Item)
        .Text("step", r => r.Value.Step.Value)
        .Integer("attempt", r => r.Value.Attempt)
        .Uuid("record", r => r.Value.Record)
        .Text("characteristic", r => r.Value.Characteristic.Value)
        .Text("value", r => r.Value.Value?.ToString())
        .Real("magnitude", r => r.Value.Magnitude)
        .Text("dimension", r => r.Value.Dimension)
        .Real("uncertainty", r => r.Value.Uncertainty)
        .Boolean("passed", r => r.Value.Passed)
        .Time("used_from", r => r.Value.From)
        .Time("used_to", r => r.Value.To)
        .Text("station", r => r.Value.Station?.Value);

    public static CopyTable<Owned<IntervalResult>> IntervalResults { get; } = Table<IntervalResult>("interval_result")
        .Text("item", r => r.Item)
        .Text("rule", r => r.Value.Rule.Value)
        .Text("from_step", r => r.Value.FromStep.Value)
        .Text("to_step", r => r.Value.ToStep.Value)
        .Uuid("from_record", r => r.Value.FromRecord)
        .Uuid("to_record", r => r.Value.ToRecord)
        .Interval("least", r => EvidenceColumns.Down(r.Value.Least))
        .Interval("most", r => EvidenceColumns.Up(r.Value.Most))
        .Text("verdict", r => EnumNames<IntervalVerdict>.Of(r.Value.Verdict))
        .Time("at", r => r.Value.At)
        .Text("station", r => r.Value.Station?.Value);

    public static CopyTable<Owned<WorkGap>> WorkGaps { get; } = Table<WorkGap>("work_gap")
        .Text("item", r => r.Item)
        .Text("kind", r => EnumNames<WorkGapKind>.Of(r.Value.Kind))
        .Text("reason", r => EnumNames<GapReason>.Of(r.Value.Reason))
        .Text("step", r => r.Value.Step.Value)
        .Text("requirement", r => r.Value.Requirement?.Value)
        .Text("tool_class", r => r.Value.ToolClass?.Value)
        .Uuid("record", r => r.Value.Record)
        .Time("used_from", r => r.Value.From)
        .Time("used_to", r => r.Value.To)
        .Text("station", r => r.Value.Station?.Value)
        .Text("person", r => r.Value.Person?.Value)
        .Text("stations", r => EvidenceColumns.Stations(r.Value))
        .Text("revision", r => r.Value.Revision?.Value);

    public static CopyTable<Owned<Departure>> Shipments { get; } = Table<Departure>("shipment")
        .Text("item", r => r.Item)
        .Text("consignee", r => r.Value.Consignee)
        .Text("order_reference", r => r.Value.OrderReference)
        .Text("shipment", r => r.Value.Shipment?.ToString())
        .Uuid("record", r => r.Value.Record)
        .Time("at", r => r.Value.At)
        .Time("returned_at", r => r.Value.ReturnedAt);

    public static CopyTable<(string Subject, string Unit)> Dependencies { get; } = new CopyTable<(string Subject, string Unit)>("dependency")
        .Text("subject", d => d.Subject)
        .Text("unit", d => d.Unit);

    /// <summary>Writes every row of the units that isn't stored yet into the tables of a schema; gives their number. Blocks the thread.</summary>
    public static long Write(NpgsqlConnection connection, string schema, IReadOnlyCollection<BulkUnit> units) =>
        Units.Write(connection, schema, units) + WriteRows(connection, schema, units);

    /// <summary>The same without the rows of the table unit, and with what <see cref="WriteNamed"/> writes only if asked for.</summary>
    public static long WriteRows(NpgsqlConnection connection, string schema, IReadOnlyCollection<BulkUnit> units, bool withNamed = true) =>
        StepResults.Write(connection, schema, New(units, UnitTable.StepResult, r => r.StepResults))
        + UnitResults.Write(connection, schema, New(units, UnitTable.UnitResult, r => r.UnitResults))
        + Findings.Write(connection, schema, New(units, UnitTable.Finding, r => r.Findings))
        + OpenIntervals.Write(connection, schema, New(units, UnitTable.OpenInterval, r => r.OpenIntervals))
        + Usages.Write(connection, schema, New(units, UnitTable.MaterialUsage, r => r.Usages))
        + Gaps.Write(connection, schema, New(units, UnitTable.TraceGap, r => r.Gaps))
        + ToolUsages.Write(connection, schema, New(units, UnitTable.ToolUsage, r => r.ToolUsages))
        + Nonconformances.Write(connection, schema, New(units, UnitTable.Nonconformance, r => r.Nonconformances))
        + Measurements.Write(connection, schema, New(units, UnitTable.Measurement, r => r.Measurements))
        + IntervalResults.Write(connection, schema, New(units, UnitTable.IntervalResult, r => r.IntervalResults))
        + WorkGaps.Write(connection, schema, New(units, UnitTable.WorkGap, r => r.WorkGaps))
        + Shipments.Write(connection, schema, New(units, UnitTable.Shipment, r => r.Shipments))
        + (withNamed ? WriteNamed(connection, schema, units) : 0)
        + CureWindows.Write(connection, schema, New(units, UnitTable.CureWindow, r => r.CureWindows));

    /// <summary>Writes what judgements of other units look at: where the components of these units were and are, and what these units name.</summary>
    public static long WriteNamed(NpgsqlConnection connection, string schema, IReadOnlyCollection<BulkUnit> units) =>
        Installations.Write(connection, schema, New(units, UnitTable.Installation, r => r.Installations))
        + Dependencies.Write(connection, schema, units.SelectMany(u => u.Dependencies.Select(d => (d, u.Name))));

    private static CopyTable<Owned<T>> Table<T>(string name, string key = "unit") =>
        new CopyTable<Owned<T>>(name).Text(key, r => r.Owner.Name).Bigint("row_id", r => r.Row.Id);

    private static UnitStatus Status(BulkUnit unit) => unit.Rows.Judgement.Status;

    /// <summary>The rows of a table that are not stored yet.</summary>
    public static IEnumerable<Owned<T>> New<T>(IEnumerable<BulkUnit> units, UnitTable table, Func<UnitRows, ImmutableArray<Row<T>>> rowsOf)
    {
        foreach (var unit in units)
        {
            var stored = unit.Stored is { } held ? held[(int)table] : [];
            foreach (var row in rowsOf(unit.Rows))
            {
                if (!stored.AsSpan().Contains(row.Id))
                {
                    yield return new(unit, row);
                }
            }
        }
    }
}
