using Npgsql;
using Traceability.Domain.Scope;

namespace Traceability.Service.Features.Scope;

/// <summary>How rows of evidence are read, whole.</summary>
internal static class EvidenceSql
{
    /// <summary>The columns of a use, from a source that is called u.</summary>
    public const string UsageColumns =
        """
        u.record, u.step, u.requirement, u.item || '/' || u.lot, u.container, null::text, null::text, u.used_from, u.used_to, u.station
        """;

    /// <summary>
    /// Uses that clear, called u. Parameters: 1 to 3 windows (from, to, station or null), and for each of them 4 the item, 5 the lot and
    /// 6 the container that is suspected, or null for the whole lot.
    /// </summary>
    public const string Clearing =
        """
        unnest($1, $2, $3, $4, $5, $6) w (from_time, to_time, station, item, lot, container) cross join lateral (
            select * from traceability.material_usage
            where item = w.item and used_from >= w.from_time and used_from <= w.to_time
            and (w.station is null or station is null or station = w.station)
            and (requirement is not null or step is null)
            and (lot <> w.lot or container <> w.container) offset 0) u
        """;

    /// <summary>Reads rows by unit (parameter 1) and row id (parameter 2), each after the number of its key.</summary>
    public static string Of(EvidenceKind kind) => WorkSql.Evidence(kind) ?? kind switch
    {
        EvidenceKind.Usage =>
            $"""
            select k.n::integer, {UsageColumns}
            from unnest($1, $2) with ordinality k (unit, row_id, n) cross join lateral (
                select * from traceability.material_usage where unit = k.unit and row_id = k.row_id offset 0) u
            """,
        EvidenceKind.Gap =>
            """
            select k.n::integer, g.record, g.step, g.requirement, g.item || '/' || g.lot, null::text,
                null::text, g.reason, g.used_from, g.used_to, g.station
            from unnest($1, $2) with ordinality k (unit, row_id, n) cross join lateral (
                select * from traceability.trace_gap where unit = k.unit and row_id = k.row_id offset 0) g
            """,
        EvidenceKind.Unit =>
            """
            select k.n::integer, '00000000-0000-0000-0000-000000000000'::uuid, null::text, null::text, null::text, null::text,
                null::text, null::text, coalesce(u.opened_at, 'epoch'), null::timestamptz, null::text
            from unnest($1, $2) with ordinality k (unit, row_id, n) left join lateral (
                select opened_at from traceability.unit where unit = k.unit offset 0) u on true
            """,
        _ =>
            """
            select k.n::integer, i.record, i.step, i.position, null::text, null::text, i.component, null::text,
                i.installed_from, i.installed_to, null::text
            from unnest($1, $2) with ordinality k (unit, row_id, n) cross join lateral (
                select * from traceability.installation where parent = k.unit and row_id = k.row_id offset 0) i
            """,
    };

    /// <summary>Reads one row of evidence of a kind from this column on.</summary>
    public static EvidenceRow Read(EvidenceKind kind, NpgsqlDataReader r, int first) =>
        WorkSql.Evidence(kind) is null ? Read(r, first) : Read(r, first) with { Says = WorkSql.Says(kind, r, first + 10) };

    /// <summary>Reads one row of evidence from this column on.</summary>
    public static EvidenceRow Read(NpgsqlDataReader r, int first)
    {
        return new(
            r.GetGuid(first),
            Text(1),
            Text(2),
            Text(3),
            Text(4),
            Text(5),
            Text(6) is { } reason ? ScopeNames.Reason(reason) : null,
            Time(r, first + 7),
            r.IsDBNull(first + 8) ? null : Time(r, first + 8),
            Text(9));

        string? Text(int column) => r.IsDBNull(first + column) ? null : r.GetString(first + column);
    }

    /// <summary>Reads a time; always and never are the ends of what a time can be.</summary>
    public static DateTimeOffset Time(NpgsqlDataReader r, int column) => new(DateTime.SpecifyKind(r.GetDateTime(column), DateTimeKind.Utc));
}
