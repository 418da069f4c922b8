using System.Text.Json;
using Npgsql;
using Traceability.Domain.Judging;
using Traceability.Domain.Nonconformances;
using Traceability.Domain.Routings;
using Traceability.Service.Storage;

namespace Traceability.Service.Ingest;

/// <summary>Replaces the rows of units by those of their new judgement: what is gone is deleted, what is new inserted.</summary>
internal static class UnitRowWriter
{
    private const string StepCounters = "item, variant, revision, step, station, day, first_attempts, first_passed, attempts, reworks, retests, defects, opportunities";

    private const string StepKey = "s.item, s.variant, s.revision, s.step, s.station, s.day";

    // The counters of step results. A repeat without rework is a retest; the two are counted apart.
    private const string StepCounts =
        """
        count(*) filter (where s.attempt = 1), count(*) filter (where s.attempt = 1 and s.passed and not s.is_rework), count(*), count(*) filter (where s.is_rework), count(*) filter (where s.attempt > 1 and not s.is_rework), sum(s.defects), sum(s.opportunities)
        """;

    /// <summary>What is done to the units that are there.</summary>
    public const string Update =
        """
        update traceability.unit u set
          variant = r.variant, lot = r.lot, revision = r.revision, opened_at = r.opened_at, place = r.place, step = r.step,
          since = r.since, consignee = r.consignee, ended_at = r.ended_at, has_unreadable = r.has_unreadable, holds = r.holds,
          version = r.version, judgement = r.judgement
        from {rows} where u.unit = r.unit and u.judgement = r.judgement - 1
        """;

    /// <summary>The units.</summary>
    public static readonly Columns<UnitDraft> Units = UnitColumns();

    /// <summary>What the units look at.</summary>
    public static readonly Columns<(string Subject, string Unit)> Dependencies =
        new Columns<(string Subject, string Unit)>().Text("subject", d => d.Subject).Text("unit", d => d.Unit);

    /// <summary>Their step results.</summary>
    public static readonly Columns<Owned<StepResult>> StepResults = Of<StepResult>()
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

    /// <summary>What step results add to the counters of yields; they are named s.</summary>
    public const string CountSteps = $"insert into traceability.step_yield_change ({StepCounters}) select {StepKey}, {StepCounts} from s group by {StepKey}";

    /// <summary>Their material usages.</summary>
    public static readonly Columns<Owned<MaterialUsage>> Usages = Of<MaterialUsage>()
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

    /// <summary>Their uses of tools.</summary>
    public static readonly Columns<Owned<ToolUsage>> ToolUsages = Of<ToolUsage>()
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

    /// <summary>Their measurements.</summary>
    public static readonly Columns<Owned<MeasuredValue>> Measurements = Of<MeasuredValue>()
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

    private static readonly Statement<UnitDraft> Open = UnitColumns()
        .Text("item", u => u.Unit.Key.Item.Value)
        .Text("serial", u => u.Unit.Key.Serial.Value)
        .CheckedInsertInto("traceability.unit", "on conflict (unit) do nothing", StoredRequirement.Unit);

    private static readonly Statement<Owned<UnitResultRow>> UnitResults = Of<UnitResultRow>()
        .Text("item", r => r.Item)
        .Text("variant", r => r.Status.Variant?.Value ?? string.Empty)
        .Text("revision", r => r.Status.Revision?.Value ?? string.Empty)
        .Date("day", r => r.Value.Day)
        .Boolean("is_scrapped", r => r.Value.IsScrapped)
        .Boolean("passed", r => r.Value.Passed)
        .Statement(
            """
            with u as (
              insert into traceability.unit_result (unit, row_id, item, variant, revision, day, is_scrapped, passed)
              select * from {rows} returning *)
            insert into traceability.unit_yield_change (item, variant, revision, day, ended, passed, scrapped)
            select item, variant, revision, day, 1, passed::int, is_scrapped::int from u
            """);

    private static readonly Statement<Owned<Finding>> Findings = Of<Finding>()
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
        .Json("evidence", r => JsonSerializer.Serialize(r.Value.Evidence, EventJson.Options))
        .Text("concession", r => r.Value.Concession?.Value)
        .InsertInto("traceability.finding");

    private static readonly Statement<Owned<OpenInterval>> OpenIntervals = Of<OpenInterval>()
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
        .Time("surely_overdue_at", r => r.Value.SurelyOverdueAt)
        .InsertInto("traceability.open_interval");

    private static readonly Statement<Owned<CureWindow>> CureWindows = Of<CureWindow>()
        .Text("place", r => r.Value.Place.Value)
        .Time("looked_from", r => r.Value.From)
        .Time("looked_to", r => r.Value.To)
        .InsertInto("traceability.cure_window");

    private static readonly Statement<Owned<GapRow>> Gaps = Of<GapRow>()
        .Text("item", r => r.Value.Item.Value)
        .Text("kind", r => EnumNames<GapKind>.Of(r.Value.Gap.Kind))
        .Text("reason", r => EnumNames<GapReason>.Of(r.Value.Gap.Reason))
        .Text("lot", r => r.Value.Gap.Lot?.Lot.Value)
        .Text("step", r => r.Value.Gap.Step?.Value)
        .Uuid("record", r => r.Value.Gap.Record)
        .Text("requirement", r => r.Value.Gap.Requirement?.Value)
        .Time("used_from", r => r.Value.Gap.From)
        .Time("used_to", r => r.Value.Gap.To)
        .Text("station", r => r.Value.Gap.Station?.Value)
        .InsertInto("traceability.trace_gap");

    private static readonly Statement<Owned<Installation>> Installations = Of<Installation>("parent")
        .Text("component", r => r.Value.Component.ToString())
        .Text("position", r => r.Value.Position.Value)
        .Text("step", r => r.Value.Step?.Value)
        .Uuid("record", r => r.Value.Record)
        .Time("installed_from", r => r.Value.From)
        .Time("installed_to", r => r.Value.To)
        .Interval("uncertainty", r => InstallationColumns.Uncertainty(r.Value))
        .InsertInto("traceability.installation");

    private static readonly Statement<Owned<Nonconformance>> Nonconformances = Of<Nonconformance>()
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
        .Text("ended_by", r => r.Value.EndedBy?.ToString())
        .InsertInto("traceability.nonconformance");

    private static readonly Statement<Owned<IntervalResult>> IntervalResults = Of<IntervalResult>()
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
        .Text("station", r => r.Value.Station?.Value)
        .InsertInto("traceability.interval_result");

    private static readonly Statement<Owned<WorkGap>> WorkGaps = Of<WorkGap>()
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
        .Text("revision", r => r.Value.Revision?.Value)
        .InsertInto("traceability.work_gap");

    private static readonly Statement<Owned<Departure>> Shipments = Of<Departure>()
        .Text("item", r => r.Item)
        .Text("consignee", r => r.Value.Consignee)
        .Text("order_reference", r => r.Value.OrderReference)
        .Text("shipment", r => r.Value.Shipment?.ToString())
        .Uuid("record", r => r.Value.Record)
        .Time("at", r => r.Value.At)
        .Time("returned_at", r => r.Value.ReturnedAt)
        .InsertInto("traceability.shipment");

    // In the order of UnitTable.
    private static readonly ImmutableArray<Statement<(string Unit, long Id)>> Deletes =
    [
        Deleting($"with s as (delete from traceability.step_result s using {{rows}} where s.unit = r.unit and s.row_id = r.row_id returning s.*) insert into traceability.step_yield_change ({StepCounters}) select {StepKey}, {Negated(StepCounts)} from s group by {StepKey}"),
        Deleting("with gone as (delete from traceability.unit_result u using {rows} where u.unit = r.unit and u.row_id = r.row_id returning u.*) insert into traceability.unit_yield_change (item, variant, revision, day, ended, passed, scrapped) select item, variant, revision, day, -1, -(passed::int), -(is_scrapped::int) from gone"),
        Deleting(Plain("finding", "unit")),
        Deleting(Plain("open_interval", "unit")),
        Deleting(Plain("material_usage", "unit")),
        Deleting(Plain("trace_gap", "unit")),
        Deleting(Plain("installation", "parent")),
        Deleting(Plain("cure_window", "unit")),
        Deleting(Plain("tool_usage", "unit")),
        Deleting(Plain("nonconformance", "unit")),
        Deleting(Plain("measurement", "unit")),
        Deleting(Plain("interval_result", "unit")),
        Deleting(Plain("work_gap", "unit")),
        Deleting(Plain("shipment", "unit")),
    ];

    /// <summary>A row, with the unit that it belongs to.</summary>
    internal readonly record struct Owned<T>(UnitDraft Owner, Row<T> Row)
    {
        public string Unit => Owner.Name;

        public string Item => Owner.Unit.Key.Item.Value;

        public UnitStatus Status => Owner.Rows!.Judgement.Status;

        public T Value => Row.Value;
    }

    /// <summary>Adds the statements. They fail the transaction when a unit's rows aren't those that were read.</summary>
    public static void Add(NpgsqlBatch batch, IReadOnlyList<UnitDraft> units)
    {
        GroupStatement.AddTo(batch, [], [], units);
        AddRest(batch, units);
    }

    /// <summary>Adds the statements of what few facts bring along; what many do is in <see cref="GroupStatement"/>.</summary>
    public static void AddRest(NpgsqlBatch batch, IReadOnlyList<UnitDraft> units)
    {
        if (units.Count == 0)
        {
            return;
        }

        Open.AddTo(batch, [.. units.Where(u => u.Stored.Judgement == 0)]);
        AddDeletes(batch, units);
        UnitResults.AddTo(batch, Added(units, UnitTable.UnitResult, r => r.UnitResults));
        Findings.AddTo(batch, Added(units, UnitTable.Finding, r => r.Findings));
        OpenIntervals.AddTo(batch, Added(units, UnitTable.OpenInterval, r => r.OpenIntervals));
        Gaps.AddTo(batch, Added(units, UnitTable.TraceGap, r => r.Gaps));
        Installations.AddTo(batch, Added(units, UnitTable.Installation, r => r.Installations));
        CureWindows.AddTo(batch, Added(units, UnitTable.CureWindow, r => r.CureWindows));
        Nonconformances.AddTo(batch, Added(units, UnitTable.Nonconformance, r => r.Nonconformances));
        IntervalResults.AddTo(batch, Added(units, UnitTable.IntervalResult, r => r.IntervalResults));
        WorkGaps.AddTo(batch, Added(units, UnitTable.WorkGap, r => r.WorkGaps));
        Shipments.AddTo(batch, Added(units, UnitTable.Shipment, r => r.Shipments));
    }

    /// <summary>The rows of a table that are not stored yet.</summary>
    public static List<Owned<T>> Added<T>(IReadOnlyList<UnitDraft> units, UnitTable table, Func<UnitRows, ImmutableArray<Row<T>>> rowsOf)
    {
        List<Owned<T>> added = [];
        foreach (var unit in units)
        {
            var stored = unit.Stored.Rows[(int)table];
            foreach (var row in rowsOf(unit.Rows!))
            {
                if (!stored.AsSpan().Contains(row.Id))
                {
                    added.Add(new(unit, row));
                }
            }
        }

        return added;
    }

    private static Columns<UnitDraft> UnitColumns() => new Columns<UnitDraft>()
        .Text("unit", u => u.Name)
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
        .Bigint("judgement", u => u.Stored.Judgement + 1);

    private static Columns<Owned<T>> Of<T>(string key = "unit") => new Columns<Owned<T>>().Text(key, r => r.Unit).Bigint("row_id", r => r.Row.Id);

    private static Statement<(string Unit, long Id)> Deleting(string sql) =>
        new Columns<(string Unit, long Id)>().Text("unit", g => g.Unit).Bigint("row_id", g => g.Id).Statement(sql);

    private static string Plain(string table, string key) =>
        $"delete from traceability.{table} t using {{rows}} where t.{key} = r.unit and t.row_id = r.row_id";

    private static string Negated(string counts) =>
        string.Join(", ", counts.Split(", ", StringSplitOptions.TrimEntries).Select(c => $"-({c})"));

    /// <summary>Adds the deletion of rows that the new judgement lacks, and what that takes from the counters.</summary>
    public static void AddDeletes(NpgsqlBatch batch, IReadOnlyList<UnitDraft> units)
    {
        for (var table = 0; table < Deletes.Length; table++)
        {
            List<(string Unit, long Id)> gone = [];
            foreach (var unit in units)
            {
                foreach (var id in unit.Stored.Rows[table])
                {
                    if (!unit.Rows!.Has((UnitTable)table, id))
                    {
                        gone.Add((unit.Name, id));
                    }
                }
            }

            Deletes[table].AddTo(batch, gone);
        }
    }

    private static UnitStatus Status(UnitDraft unit) => unit.Rows!.Judgement.Status;
}
