namespace Traceability.Service.Features.Scope;

/// <summary>How units are looked up by their names, tens of thousands in one question.</summary>
/// <remarks>
/// A table is read by "= any($1)" with the array's values in order, which takes a third less than a join to it. The planner
/// leaves the index for more than a few values, unless <see cref="ScopePlans"/> holds it to the plan for any array.
/// </remarks>
internal static class LevelSql
{
    /// <summary>Where components were and are, where the units around them stand, and what else the record says. Parameter: the components.</summary>
    public const string Installations =
        """
        select i.component, i.parent, i.row_id, i.installed_from, i.installed_to, i.uncertainty,
            u.opened_at, u.place, u.step, u.since, u.consignee, i.record, i.step, i.position
        from traceability.installation i left join lateral (
            select opened_at, place, step, since, consignee from traceability.unit where unit = i.parent offset 0) u on true
        where i.component = any($1)
        """;

    /// <summary>Missing serials. Parameter: the items.</summary>
    public const string SerialGaps =
        """
        select g.unit, g.row_id, g.kind, g.item, g.step, g.used_from, g.used_to, g.station
        from unnest($1) k (item) cross join lateral (
            select * from traceability.trace_gap where item = k.item and kind = 'serial' offset 0) g
        """;

    /// <summary>Where units stand. Parameter: the units.</summary>
    public const string Units = "select unit, opened_at, place, step, since, consignee from traceability.unit where unit = any($1)";

    /// <summary>Those of the items that are components of something: in names sorted by bytes one look into the index tells. Parameter: the items.</summary>
    public const string ComponentItems =
        """
        select k.item from unnest($1) k (item)
        where not (select datcollate in ('C', 'POSIX') and datlocprovider = 'c' from pg_database where datname = current_database())
            or exists (select from traceability.installation where component >= k.item || '/' and component < k.item || '0' offset 0)
        """;
}
