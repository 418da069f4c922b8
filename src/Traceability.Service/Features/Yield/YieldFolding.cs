using Npgsql;

namespace Traceability.Service.Features.Yield;

/// <summary>Moves queued differences into the day counters: each page is one statement, so a difference is in exactly one place.</summary>
/// <remarks>
/// No watermark: a page takes the queue rows that it can see and lock, whenever they were committed and in whatever order.
/// Several may fold at once: locked rows are skipped, and counters are updated in the order of their key, so that none
/// waits for another in a circle.
/// </remarks>
internal static class YieldFolding
{
    // The ids are an array that is computed once: inside "in (...)" the planner may run the locking query anew for each row.
    private const string Steps =
        """
        with taken as (
          delete from traceability.step_yield_change
          where id = any(array(select id from traceability.step_yield_change order by id limit $1 for update skip locked))
          returning *),
        summed as (
          select item, day, step, station, variant, revision,
            sum(first_attempts) as first_attempts, sum(first_passed) as first_passed, sum(attempts) as attempts,
            sum(reworks) as reworks, sum(retests) as retests, sum(defects) as defects, sum(opportunities) as opportunities
          from taken group by item, day, step, station, variant, revision),
        folded as (
          insert into traceability.step_yield_day as d
            (item, day, step, station, variant, revision, first_attempts, first_passed, attempts, reworks, retests, defects, opportunities)
          select * from summed order by item, day, step, station, variant, revision
          on conflict (item, day, step, station, variant, revision) do update set
            first_attempts = d.first_attempts + excluded.first_attempts, first_passed = d.first_passed + excluded.first_passed,
            attempts = d.attempts + excluded.attempts, reworks = d.reworks + excluded.reworks, retests = d.retests + excluded.retests,
            defects = d.defects + excluded.defects, opportunities = d.opportunities + excluded.opportunities)
        select count(*)::int from taken
        """;

    private const string Units =
        """
        with taken as (
          delete from traceability.unit_yield_change
          where id = any(array(select id from traceability.unit_yield_change order by id limit $1 for update skip locked))
          returning *),
        summed as (
          select item, day, variant, revision, sum(ended) as ended, sum(passed) as passed, sum(scrapped) as scrapped
          from taken group by item, day, variant, revision),
        folded as (
          insert into traceability.unit_yield_day as d (item, day, variant, revision, ended, passed, scrapped)
          select * from summed order by item, day, variant, revision
          on conflict (item, day, variant, revision) do update set
            ended = d.ended + excluded.ended, passed = d.passed + excluded.passed, scrapped = d.scrapped + excluded.scrapped)
        select count(*)::int from taken
        """;

    // Nobody is told that something was folded. Should the server lose the last moments of it, the differences are in their queue
    // again and the counters are as they were before; what they come from was on disk already. So those who record needn't
    // stand behind a flush of the log for it, fifty times a second.
    private const string NotFlushed = "select set_config('synchronous_commit', 'off', true)";

    /// <summary>Folds a page of each queue, in one transaction; gives the larger number of changes taken, so that a full page means: come again.</summary>
    public static async Task<int> FoldPageAsync(NpgsqlDataSource database, int pageSize, CancellationToken cancellation)
    {
        await using var batch = database.CreateBatch();
        batch.BatchCommands.Add(new NpgsqlBatchCommand(NotFlushed));
        batch.BatchCommands.Add(Page(Steps, pageSize));
        batch.BatchCommands.Add(Page(Units, pageSize));
        await using var reader = await batch.ExecuteReaderAsync(cancellation);
        var most = 0;
        while (await reader.NextResultAsync(cancellation))
        {
            await reader.ReadAsync(cancellation);
            most = Math.Max(most, reader.GetInt32(0));
        }

        return most;
    }

    private static NpgsqlBatchCommand Page(string sql, int pageSize) => new(sql) { Parameters = { new() { Value = pageSize } } };
}
