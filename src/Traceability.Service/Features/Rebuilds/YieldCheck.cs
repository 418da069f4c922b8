using System.Globalization;
using Npgsql;

namespace Traceability.Service.Features.Rebuilds;

/// <summary>Compares the counters, folded and queued, with the rows that they count.</summary>
internal static class YieldCheck
{
    // Counted from the rows anew, by filters of its own, so that a mistake in the differences' statement shows.
    private const string Steps =
        """
        with counted as (
          select item, day, step, station, variant, revision, sum(first_attempts) as a, sum(first_passed) as b, sum(attempts) as c,
            sum(reworks) as d, sum(retests) as e, sum(defects) as f, sum(opportunities) as g
          from (
            select item, day, step, station, variant, revision, first_attempts, first_passed, attempts, reworks, retests, defects, opportunities
            from traceability.step_yield_day
            union all
            select item, day, step, station, variant, revision, first_attempts, first_passed, attempts, reworks, retests, defects, opportunities
            from traceability.step_yield_change) c
          group by item, day, step, station, variant, revision),
        judged as (
          select item, day, step, station, variant, revision,
            count(*) filter (where attempt = 1) as a, count(*) filter (where attempt = 1 and passed and not is_rework) as b, count(*) as c,
            count(*) filter (where is_rework) as d, count(*) filter (where attempt <> 1 and not is_rework) as e,
            sum(defects) as f, sum(opportunities) as g
          from traceability.step_result group by item, day, step, station, variant, revision)
        select concat_ws('/', item, day, step, station, variant, revision),
          concat_ws(' ', coalesce(c.a, 0), coalesce(c.b, 0), coalesce(c.c, 0), coalesce(c.d, 0), coalesce(c.e, 0), coalesce(c.f, 0), coalesce(c.g, 0)),
          concat_ws(' ', coalesce(t.a, 0), coalesce(t.b, 0), coalesce(t.c, 0), coalesce(t.d, 0), coalesce(t.e, 0), coalesce(t.f, 0), coalesce(t.g, 0))
        from counted c full join judged t using (item, day, step, station, variant, revision)
        where (coalesce(c.a, 0), coalesce(c.b, 0), coalesce(c.c, 0), coalesce(c.d, 0), coalesce(c.e, 0), coalesce(c.f, 0), coalesce(c.g, 0))
          is distinct from (coalesce(t.a, 0), coalesce(t.b, 0), coalesce(t.c, 0), coalesce(t.d, 0), coalesce(t.e, 0), coalesce(t.f, 0), coalesce(t.g, 0))
        order by 1
        """;

    private const string Units =
        """
        with counted as (
          select item, day, variant, revision, sum(ended) as a, sum(passed) as b, sum(scrapped) as c
          from (
            select item, day, variant, revision, ended, passed, scrapped from traceability.unit_yield_day
            union all
            select item, day, variant, revision, ended, passed, scrapped from traceability.unit_yield_change) c
          group by item, day, variant, revision),
        judged as (
          select item, day, variant, revision, count(*) as a, count(*) filter (where passed) as b, count(*) filter (where is_scrapped) as c
          from traceability.unit_result group by item, day, variant, revision)
        select concat_ws('/', item, day, variant, revision),
          concat_ws(' ', coalesce(c.a, 0), coalesce(c.b, 0), coalesce(c.c, 0)), concat_ws(' ', coalesce(t.a, 0), coalesce(t.b, 0), coalesce(t.c, 0))
        from counted c full join judged t using (item, day, variant, revision)
        where (coalesce(c.a, 0), coalesce(c.b, 0), coalesce(c.c, 0)) is distinct from (coalesce(t.a, 0), coalesce(t.b, 0), coalesce(t.c, 0))
        order by 1
        """;

    /// <summary>Every cell whose counters differ from its rows, in words; empty when all agree. Each table pair is compared in one snapshot.</summary>
    public static async Task<ImmutableArray<string>> CheckAsync(NpgsqlDataSource database, CancellationToken cancellation)
    {
        await using var connection = await database.OpenConnectionAsync(cancellation);
        return await CheckAsync(connection, cancellation);
    }

    /// <summary>The same in a connection's snapshot.</summary>
    public static async Task<ImmutableArray<string>> CheckAsync(NpgsqlConnection connection, CancellationToken cancellation)
    {
        var differences = ImmutableArray.CreateBuilder<string>();
        foreach (var (table, sql) in new[] { ("steps", Steps), ("units", Units) })
        {
            differences.AddRange(await Sql.ListAsync(
                connection,
                sql,
                r => string.Create(CultureInfo.InvariantCulture, $"{table} {r.GetString(0)}: counted {r.GetString(1)}, rows say {r.GetString(2)}"),
                cancellation));
        }

        return differences.ToImmutable();
    }
}
