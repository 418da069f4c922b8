using System.Globalization;
using Npgsql;
using Traceability.Domain.Scope;

namespace Traceability.Service.Features.Scope;

/// <summary>How tools, work, values, intervals and missing work are looked up. Each key is looked up by its index, see <see cref="SqlScopeSource"/>.</summary>
internal static class WorkSql
{
    private const string MeasuredColumns =
        "m.unit, m.row_id, m.step, m.value, m.magnitude, m.dimension, m.uncertainty, m.passed, m.used_from, m.used_to, m.station";

    private const string IntervalColumns = "i.unit, i.row_id, i.to_step, i.least, i.most, i.at, i.station";

    // Work seldom takes longer than a day, and its end is seldom in doubt by more than an hour: so it is found by the time of its
    // completion, from an hour before the time asked for until a day after it. The rest is little, and has indexes of its own that
    // want exactly these words.
    private const string IsLongWork = "(latest at time zone 'UTC') > (earliest at time zone 'UTC') + interval '1 day'";

    private const string IsLateWork = "(latest at time zone 'UTC') > (completed_at at time zone 'UTC') + interval '1 hour'";

    private const string IsLongUse = "(used_to at time zone 'UTC') > (used_from at time zone 'UTC') + interval '1 day'";

    private const string IsLateUse = "(used_to at time zone 'UTC') > (at at time zone 'UTC') + interval '1 hour'";

    private const string ToolUseColumns = "u.unit, u.row_id, u.setting, u.step, u.used_from, u.used_to, u.station";

    private const string IsUseInTime = "($2::timestamptz is null or u.used_to >= $2) and ($3::timestamptz is null or u.used_from <= $3)";

    private const string UseUntil = "at <= coalesce($3::timestamptz, 'infinity') + interval '1 day'";

    /// <summary>Uses of a tool in a time, ends included. Parameters: 1 an array of the tool, 2 from, 3 to; null for what isn't asked for.</summary>
    public const string ToolUses =
        $"""
        select {ToolUseColumns} from unnest($1) k (tool) cross join lateral (
            select * from traceability.tool_usage
            where tool = k.tool and at >= coalesce($2::timestamptz, '-infinity') - interval '1 hour' and {UseUntil}
                and used_from <= coalesce($3::timestamptz, 'infinity') and not ({IsLongUse}) and not ({IsLateUse}) offset 0) u
        where {IsUseInTime}
        union all select {ToolUseColumns} from unnest($1) k (tool) cross join lateral (
            select * from traceability.tool_usage
            where tool = k.tool and at >= coalesce($2::timestamptz, '-infinity') - interval '1 day' and {UseUntil} and {IsLateUse} and not ({IsLongUse}) offset 0) u
        where {IsUseInTime}
        union all select {ToolUseColumns} from unnest($1) k (tool) cross join lateral (
            select * from traceability.tool_usage where tool = k.tool and {IsLongUse} offset 0) u
        where {IsUseInTime}
        """;

    /// <summary>Values that were not shown to pass. Parameters: 1 an array of the characteristic, 2 the item or null.</summary>
    public const string NotPassed =
        $"""
        select {MeasuredColumns} from unnest($1) k (characteristic) cross join lateral (
            select * from traceability.measurement where characteristic = k.characteristic and passed is not true offset 0) m
        where $2::text is null or m.item = $2
        """;

    /// <summary>Intervals that may be shorter than a length. Parameters: 1 an array of the rule, 2 the item or null, 3 the length.</summary>
    public const string Shorter =
        $"""
        select {IntervalColumns} from unnest($1) k (rule) cross join lateral (
            select * from traceability.interval_result where rule = k.rule and least < $3 offset 0) i
        where $2::text is null or i.item = $2
        union all select {IntervalColumns} from unnest($1) k (rule) cross join lateral (
            select * from traceability.interval_result where rule = k.rule and least is null offset 0) i
        where $2::text is null or i.item = $2
        """;

    /// <summary>Intervals that may be longer than a length. Parameters as for <see cref="Shorter"/>.</summary>
    public const string Longer =
        $"""
        select {IntervalColumns} from unnest($1) k (rule) cross join lateral (
            select * from traceability.interval_result where rule = k.rule and most > $3 offset 0) i
        where $2::text is null or i.item = $2
        union all select {IntervalColumns} from unnest($1) k (rule) cross join lateral (
            select * from traceability.interval_result where rule = k.rule and most is null offset 0) i
        where $2::text is null or i.item = $2
        """;

    /// <summary>
    /// Values below or above a bound, or whose uncertainty reaches over it, or that can't be compared with it. Parameters: 1 an array
    /// of the characteristic, 2 the item or null, 3 the dimension, 4 the bound's magnitude.
    /// </summary>
    public static string Beyond(bool isBelow)
    {
        var (near, far, reach) = isBelow ? ("<=", ">", "magnitude - uncertainty <= $4") : (">=", "<", "magnitude + uncertainty >= $4");
        var sign = isBelow ? "+" : "-";
        string[] conditions =
        [
            $"dimension = $3 and magnitude {near} $4",

            // A little more than the domain takes for close, see MeasuredStart: it decides.
            $"dimension = $3 and magnitude {far} $4 and uncertainty is not null and {reach} {sign} 2e-12 * (abs($4) + abs(magnitude))",
            "dimension < $3",
            "dimension > $3",
            "dimension is null and value is not null",
        ];
        return string.Join("\nunion all ", conditions.Select(c =>
            $"""
            select {MeasuredColumns} from unnest($1) k (characteristic) cross join lateral (
                select * from traceability.measurement where characteristic = k.characteristic and {c} offset 0) m
            where $2::text is null or m.item = $2
            """));
    }

    /// <summary>
    /// Attempts at steps, looked up by what narrows most. Parameters: 1 the keys, 2 item, 3 variant, 4 revision, 5 step, 6 station,
    /// 7 person, 8 from, 9 to; null for what isn't asked for.
    /// </summary>
    public static string Work(WorkKey key)
    {
        const string Columns = "s.unit, s.row_id, nullif(s.variant, ''), nullif(s.revision, ''), s.step, s.earliest, s.latest, nullif(s.station, ''), nullif(s.person, '')";
        const string Fits =
            """
            ($1::text[] is null or true) and ($2::text is null or s.item = $2) and ($3::text is null or s.variant = $3) and ($4::text is null or s.revision = $4)
                and ($5::text is null or s.step = $5) and ($6::text is null or s.station in ($6, '')) and ($7::text is null or s.person in ($7, ''))
                and ($8::timestamptz is null or s.latest >= $8) and ($9::timestamptz is null or s.earliest < $9)
            """;
        const string Until = "completed_at <= coalesce($9::timestamptz, 'infinity') + interval '1 day'";
        const string InTime = $"completed_at >= coalesce($8::timestamptz, '-infinity') - interval '1 hour' and {Until} and earliest <= coalesce($9::timestamptz, 'infinity') and not ({IsLongWork}) and not ({IsLateWork})";
        var column = key switch { WorkKey.Person => "person", WorkKey.Station => "station", WorkKey.None => null, _ => "item" };
        var keyed = column is null ? $"(select * from traceability.step_result where {InTime}) s"
            : $"""
            unnest($1) k (name) cross join lateral (
                select * from traceability.step_result
                where {column} = k.name {(key == WorkKey.Revision ? "and revision = $4" : string.Empty)} and {InTime} offset 0) s
            """;
        var isKeyed = column is null ? "true" : $"s.{column} = any($1)";
        return $"""
            select {Columns} from {keyed} where {Fits}
            union all select {Columns} from (
                select * from traceability.step_result
                where completed_at >= coalesce($8::timestamptz, '-infinity') - interval '1 day' and {Until} and {IsLateWork} and not ({IsLongWork}) offset 0) s
            where {isKeyed} and {Fits}
            union all select {Columns} from (select * from traceability.step_result where {IsLongWork} offset 0) s
            where {isKeyed} and {Fits}
            """;
    }

    /// <summary>Missing work. Parameters: 1 keys, 2 the item or null, 3 the kind.</summary>
    public static string Gaps(WorkGapKey key) =>
        $"""
        select g.unit, g.row_id, u.variant, g.revision, g.step, g.used_from, g.used_to, g.station, g.person, g.stations
        from unnest($1) k (name) cross join lateral (
            select * from traceability.work_gap where {key switch
        {
            WorkGapKey.ToolClass => "tool_class = k.name",
            WorkGapKey.Requirement => "kind = $3 and requirement = k.name",
            _ => "kind = k.name",
        }} offset 0) g
        left join lateral (select variant from traceability.unit where unit = g.unit offset 0) u on true
        where g.kind = $3 and ($2::text is null or g.item = $2)
        """;

    /// <summary>Reads rows of evidence by unit (parameter 1) and row id (parameter 2), each after the number of its key; null for kinds that are elsewhere.</summary>
    public static string? Evidence(EvidenceKind kind) => kind switch
    {
        EvidenceKind.ToolUse => Evidence("tool_usage", "x.record, x.step, x.requirement", "null::text", "x.used_from, x.used_to", "array[x.tool, x.setting]"),
        EvidenceKind.Work => Evidence("step_result", "x.record, x.step, null::text", "null::text", "x.earliest, x.latest", "array[nullif(x.station, ''), nullif(x.person, ''), nullif(x.revision, '')]"),
        EvidenceKind.Measurement => Evidence(
            "measurement", "x.record, x.step, x.characteristic", "null::text", "x.used_from, x.used_to", "array[x.value, x.uncertainty::text, x.passed::text]"),
        EvidenceKind.Interval => Evidence(
            "interval_result",
            "x.to_record, x.to_step, x.rule",
            "null::text",
            "x.at, x.at",
            "array[(extract(epoch from x.least) * 1000000)::bigint::text, (extract(epoch from x.most) * 1000000)::bigint::text]"),
        EvidenceKind.WorkGap => Evidence("work_gap", "x.record, x.step, x.requirement", "x.reason", "x.used_from, x.used_to", "null::text[]"),
        _ => null,
    };

    /// <summary>What such a row says, from the column with its parts.</summary>
    public static string? Says(EvidenceKind kind, NpgsqlDataReader r, int column)
    {
        if (r.IsDBNull(column))
        {
            return null;
        }

        var parts = r.GetFieldValue<string?[]>(column);
        return kind switch
        {
            EvidenceKind.ToolUse => EvidenceWords.Tool(parts[0]!, parts[1]),
            EvidenceKind.Work => EvidenceWords.Work(parts[0], parts[1], parts[2]),
            EvidenceKind.Measurement => EvidenceWords.Measured(parts[0], parts[1] is not null, parts[2] is { } passed ? passed is "true" : null),
            EvidenceKind.Interval => EvidenceWords.Interval(Span(parts[0]), Span(parts[1])),
            _ => null,
        };
    }

    private static string Evidence(string table, string names, string reason, string times, string parts) =>
        $"""
        select k.n::integer, {names}, null::text, null::text, null::text, {reason}, {times}, nullif(x.station, ''), {parts}
        from unnest($1, $2) with ordinality k (unit, row_id, n) cross join lateral (
            select * from traceability.{table} where unit = k.unit and row_id = k.row_id offset 0) x
        """;

    private static TimeSpan? Span(string? microseconds) =>
        microseconds is null ? null : TimeSpan.FromTicks(long.Parse(microseconds, CultureInfo.InvariantCulture) * TimeSpan.TicksPerMicrosecond);
}

/// <summary>What attempts at steps are looked up by.</summary>
internal enum WorkKey
{
    /// <summary>By nothing: all are looked through.</summary>
    None,

    /// <summary>The item.</summary>
    Item,

    /// <summary>The item and the revision.</summary>
    Revision,

    /// <summary>The station.</summary>
    Station,

    /// <summary>The person.</summary>
    Person,
}

/// <summary>What missing work is looked up by.</summary>
internal enum WorkGapKey
{
    /// <summary>The kind.</summary>
    Kind,

    /// <summary>The class of tool.</summary>
    ToolClass,

    /// <summary>What is required.</summary>
    Requirement,
}
