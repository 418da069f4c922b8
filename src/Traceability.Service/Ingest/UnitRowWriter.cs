using System.Text.Json;
using Npgsql;
using Traceability.Domain.Judging;
using Traceability.Domain.Routings;
using Traceability.Service.Storage;

namespace Traceability.Service.Ingest;

/// <summary>Replaces the rows of units by those of their new judgement: what is gone is deleted, what is new inserted.</summary>
internal static class UnitRowWriter
{
    private const string StepCounters = "item, variant, revision, step, station, day, first_attempts, first_passed, attempts, reworks, retests, defects, opportunities";

    // The counters of one step result, times a sign. A repeat without rework is a retest; the two are counted apart.
    private const string StepCounts =
        """
        s.item, s.variant, s.revision, s.step, s.station, s.day,
        (s.attempt = 1)::int, (s.attempt = 1 and s.passed and not s.is_rework)::int, 1, s.is_rework::int,
        (s.attempt > 1 and not s.is_rework)::int, s.defects, s.opportunities
        """;

    private sealed record Owned<T>(UnitDraft Owner, Row<T> Row)
    {
        public string Unit => Owner.Name;

        public string Item => Owner.Unit.Key.Item.Value;

        public UnitStatus Status => Owner.Rows!.Judgement.Status;

        public T Value => Row.Value;
    }

    /// <summary>Adds the statements. They fail the transaction when a unit's rows aren't those that were read.</summary>
    public static void Add(NpgsqlBatch batch, IReadOnlyList<UnitDraft> units)
    {
        if (units.Count == 0)
        {
            return;
        }

        AddUnits(batch, units);
        AddDependencies(batch, units);
        AddDeletes(batch, units);
        AddStepResults(batch, units);
        AddUnitResults(batch, units);
        AddFindings(batch, units);
        AddOpenIntervals(batch, units);
        AddUsages(batch, units);
        AddGaps(batch, units);
        AddInstallations(batch, units);
    }

    private static void AddUnits(NpgsqlBatch batch, IReadOnlyList<UnitDraft> units)
    {
        batch.BatchCommands.Add(new Unnest<UnitDraft>(units)
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
            .Integer("version", u => u.Unit.Version)
            .Bigint("judgement", u => u.Stored.Judgement + 1)
            .CheckedInsertInto(
                "traceability.unit as u",
                """
                on conflict (unit) do update set
                  variant = excluded.variant, lot = excluded.lot, revision = excluded.revision, opened_at = excluded.opened_at,
                  place = excluded.place, step = excluded.step, since = excluded.since, consignee = excluded.consignee,
                  ended_at = excluded.ended_at, has_unreadable = excluded.has_unreadable, version = excluded.version, judgement = excluded.judgement
                where u.judgement = excluded.judgement - 1
                """,
                StoredRequirement.Unit));
    }

    private static UnitStatus Status(UnitDraft unit) => unit.Rows!.Judgement.Status;

    private static void AddDependencies(NpgsqlBatch batch, IReadOnlyList<UnitDraft> units)
    {
        var added = units.SelectMany(u => u.NewDependencies.Select(d => (Subject: d, Unit: u.Name))).ToArray();
        if (added.Length > 0)
        {
            batch.BatchCommands.Add(new Unnest<(string Subject, string Unit)>(added)
                .Text("subject", d => d.Subject)
                .Text("unit", d => d.Unit)
                .InsertInto("traceability.dependency", "on conflict do nothing"));
        }
    }

    private static void AddDeletes(NpgsqlBatch batch, IReadOnlyList<UnitDraft> units)
    {
        Delete(UnitTable.StepResult, $"with gone as (delete from traceability.step_result s using {{rows}} where s.unit = r.unit and s.row_id = r.row_id returning s.*) insert into traceability.step_yield_change ({StepCounters}) select {Negated(StepCounts)} from gone s");
        Delete(UnitTable.UnitResult, "with gone as (delete from traceability.unit_result u using {rows} where u.unit = r.unit and u.row_id = r.row_id returning u.*) insert into traceability.unit_yield_change (item, variant, revision, day, ended, passed, scrapped) select item, variant, revision, day, -1, -(passed::int), -(is_scrapped::int) from gone");
        Delete(UnitTable.Finding, Plain("finding", "unit"));
        Delete(UnitTable.OpenInterval, Plain("open_interval", "unit"));
        Delete(UnitTable.MaterialUsage, Plain("material_usage", "unit"));
        Delete(UnitTable.TraceGap, Plain("trace_gap", "unit"));
        Delete(UnitTable.Installation, Plain("installation", "parent"));

        static string Plain(string table, string key) =>
            $"delete from traceability.{table} t using {{rows}} where t.{key} = r.unit and t.row_id = r.row_id";

        void Delete(UnitTable table, string sql)
        {
            List<(string Unit, long Id)> gone = [];
            foreach (var unit in units)
            {
                foreach (var id in unit.Stored.Rows[(int)table])
                {
                    if (!unit.Rows!.Has(table, id))
                    {
                        gone.Add((unit.Name, id));
                    }
                }
            }

            if (gone.Count > 0)
            {
                batch.BatchCommands.Add(new Unnest<(string Unit, long Id)>(gone).Text("unit", g => g.Unit).Bigint("row_id", g => g.Id).Statement(sql));
            }
        }
    }

    private static string Negated(string counts)
    {
        var columns = counts.Split(',', StringSplitOptions.TrimEntries);
        return string.Join(", ", columns.Select((c, i) => i < 6 ? c : $"-({c})"));
    }

    private static void AddStepResults(NpgsqlBatch batch, IReadOnlyList<UnitDraft> units) =>
        Insert(batch, units, UnitTable.StepResult, r => r.StepResults, rows => rows
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
            .Statement(
                $$"""
                with s as (
                  insert into traceability.step_result (unit, row_id, item, variant, revision, step, attempt, record, started_at, completed_at, day, station, person, is_rework, passed, defects, opportunities)
                  select * from {rows} returning *)
                insert into traceability.step_yield_change ({{StepCounters}}) select {{StepCounts}} from s
                """));

    private static void AddUnitResults(NpgsqlBatch batch, IReadOnlyList<UnitDraft> units) =>
        Insert(batch, units, UnitTable.UnitResult, r => r.UnitResults, rows => rows
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
                """));

    private static void AddFindings(NpgsqlBatch batch, IReadOnlyList<UnitDraft> units) =>
        Insert(batch, units, UnitTable.Finding, r => r.Findings, rows => rows
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
            .InsertInto("traceability.finding"));

    private static void AddOpenIntervals(NpgsqlBatch batch, IReadOnlyList<UnitDraft> units) =>
        Insert(batch, units, UnitTable.OpenInterval, r => r.OpenIntervals, rows => rows
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
            .InsertInto("traceability.open_interval"));

    private static void AddUsages(NpgsqlBatch batch, IReadOnlyList<UnitDraft> units) =>
        Insert(batch, units, UnitTable.MaterialUsage, r => r.Usages, rows => rows
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
            .InsertInto("traceability.material_usage"));

    private static void AddGaps(NpgsqlBatch batch, IReadOnlyList<UnitDraft> units) =>
        Insert(batch, units, UnitTable.TraceGap, r => r.Gaps, rows => rows
            .Text("item", r => r.Value.Item.Value)
            .Text("kind", r => EnumNames<GapKind>.Of(r.Value.Gap.Kind))
            .Text("reason", r => EnumNames<GapReason>.Of(r.Value.Gap.Reason))
            .Text("lot", r => r.Value.Gap.Lot?.Lot.Value)
            .Text("step", r => r.Value.Gap.Step.Value)
            .Uuid("record", r => r.Value.Gap.Record)
            .Text("requirement", r => r.Value.Gap.Requirement.Value)
            .Time("used_from", r => r.Value.Gap.From)
            .Time("used_to", r => r.Value.Gap.To)
            .Text("station", r => r.Value.Gap.Station?.Value)
            .InsertInto("traceability.trace_gap"));

    private static void AddInstallations(NpgsqlBatch batch, IReadOnlyList<UnitDraft> units) =>
        Insert(batch, units, UnitTable.Installation, r => r.Installations, rows => rows
            .Text("component", r => r.Value.Component.ToString())
            .Text("position", r => r.Value.Position.Value)
            .Text("step", r => r.Value.Step?.Value)
            .Uuid("record", r => r.Value.Record)
            .Time("installed_from", r => r.Value.From)
            .Time("installed_to", r => r.Value.To)
            .InsertInto("traceability.installation"), "parent");

    private static void Insert<T>(
        NpgsqlBatch batch,
        IReadOnlyList<UnitDraft> units,
        UnitTable table,
        Func<UnitRows, ImmutableArray<Row<T>>> rowsOf,
        Func<Unnest<Owned<T>>, NpgsqlBatchCommand> command,
        string key = "unit")
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

        if (added.Count > 0)
        {
            batch.BatchCommands.Add(command(new Unnest<Owned<T>>(added).Text(key, r => r.Unit).Bigint("row_id", r => r.Row.Id)));
        }
    }
}
