namespace Traceability.Service.Features.Scope;

/// <summary>How units are looked up by their names, tens of thousands in one question.</summary>
/// <remarks>
/// A table is read by "= any($1)" with the array's values in order, which takes a third less than a join to it. The planner
/// leaves the index for more than a few values, unless <see cref="ScopePlans"/> holds it to the plan for any array.
/// </remarks>
internal static class LevelSql
{
    /// <summary>Where components were and are, and where the units around them stand. Parameter: the components.</summary>
    public const string Installations = $"select {Columns} {From}";

    /// <summary>The same, and what else the record says.</summary>
    public const string InstallationsSaying = $"select {Columns}, {Says} {From}";

    /// <summary>
    /// The same for the components, the units around them, those around these and so on; and, where the last column says so, a missing
    /// serial for which an item of any of them would be accepted: its unit, item, row, times, kind, step and station. Parameter: the components.
    /// </summary>
    /// <remarks>The look-ups are held in place: the planner knows nothing of how few rows a recursion finds.</remarks>
    public const string Ways =
        $"""
        with recursive i as (
            select * from traceability.installation where component = any($1)
            union
            select o.* from i cross join lateral (select * from traceability.installation where component = i.parent offset 0) o),
        k (item) as (
            select split_part(name, '/', 1) from unnest($1) c (name) union select split_part(parent, '/', 1) from i)
        select {Columns}, {Says}, false from i left join {Around}
        union all
        select g.unit, g.item, g.row_id, g.used_from, g.used_to, null, null, g.kind, g.step, null, g.station, null, null, null, true
        from k cross join {Missing}
        """;

    /// <summary>The column of <see cref="Ways"/> that tells whether the row is a missing serial.</summary>
    public const int IsMissing = 14;

    private const string Columns =
        "i.component, i.parent, i.row_id, i.installed_from, i.installed_to, i.uncertainty, u.opened_at, u.place, u.step, u.since, u.consignee";

    private const string Says = "i.record, i.step, i.position";

    private const string Around =
        "lateral (select opened_at, place, step, since, consignee from traceability.unit where unit = i.parent offset 0) u on true";

    private const string From = $"from traceability.installation i left join {Around} where i.component = any($1)";

    private const string Missing =
        "lateral (select * from traceability.trace_gap where item = k.item and kind = 'serial' offset 0) g";

    /// <summary>Missing serials. Parameter: the items.</summary>
    public const string SerialGaps =
        $"select g.unit, g.row_id, g.kind, g.item, g.step, g.used_from, g.used_to, g.station from unnest($1) k (item) cross join {Missing}";

    /// <summary>The same, of those that are not inside another one.</summary>
    public const string Outermost =
        """
        select u.* from unnest($1) k (unit) cross join lateral (
            select unit, opened_at, place, step, since, consignee from traceability.unit where unit = k.unit
            and not exists (select from traceability.installation where component = k.unit and installed_to is null offset 0) offset 0) u
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
