using System.Collections.Concurrent;
using System.Globalization;
using Npgsql;
using Traceability.Acceptance.Robustness;

namespace Traceability.Acceptance.Faults;

/// <summary>What senders were given and what was acknowledged to them, to hold against the database. May be used from any thread.</summary>
internal sealed class Ledger
{
    private readonly ConcurrentDictionary<Guid, bool> given = new();
    private readonly ConcurrentDictionary<Guid, (string Stream, int Version)> acknowledged = new();
    private readonly ConcurrentQueue<Guid> unseen = new();
    private int underWay;
    private int broken;
    private int repeats;

    /// <summary>Facts acknowledged.</summary>
    public int Acknowledged => acknowledged.Count;

    /// <summary>Facts given to senders.</summary>
    public int Given => given.Count;

    /// <summary>Posts that wait for their answer now.</summary>
    public int UnderWay => Volatile.Read(ref underWay);

    /// <summary>Posts that broke off without an answer.</summary>
    public int Broken => Volatile.Read(ref broken);

    /// <summary>Facts that were stored before their sender got to know: the answer was lost, and the repeat was answered as the first time.</summary>
    public int Repeats => Volatile.Read(ref repeats);

    /// <summary>A sender has taken the fact upon itself.</summary>
    public void Give(Sent fact) => given[fact.Id] = true;

    /// <summary>A post begins.</summary>
    public void Begin() => Interlocked.Increment(ref underWay);

    /// <summary>A post has ended, with an answer or without.</summary>
    public void End(bool isBroken)
    {
        Interlocked.Decrement(ref underWay);
        Interlocked.Add(ref broken, isBroken ? 1 : 0);
    }

    /// <summary>The service has acknowledged the fact.</summary>
    public void Acknowledge(Sent fact, string stream, int version, bool isRepeat)
    {
        if (acknowledged.TryGetValue(fact.Id, out var before) && before != (stream, version))
        {
            throw new InvalidOperationException($"{fact.Id} was acknowledged as {before} and now as {stream} {version}.");
        }

        acknowledged[fact.Id] = (stream, version);
        unseen.Enqueue(fact.Id);
        Interlocked.Add(ref repeats, isRepeat ? 1 : 0);
    }

    /// <summary>Every fact acknowledged since the last look is stored once, where it was said to be; and nothing is stored twice or was never given.</summary>
    public async Task RequireKeptAsync(NpgsqlDataSource database, bool all = false)
    {
        List<Guid> ids = all ? [.. acknowledged.Keys] : [];
        while (!all && unseen.TryDequeue(out var id))
        {
            ids.Add(id);
        }

        await using var command = database.CreateCommand(
            """
            with a as (select * from unnest($1, $2, $3) a(id, stream, version))
            select (select count(*) from a where (select count(*) from events.mt_events e where e.id = a.id and e.stream_id = a.stream and e.version = a.version) <> 1),
                   (select count(*) from a where not exists (select 1 from traceability.receipt r where r.fact_id = a.id and r.stream = a.stream and r.version = a.version)),
                   (select count(*) from (select id from events.mt_events group by id having count(*) > 1) d),
                   (select count(*) from events.mt_streams s where s.version <> (select count(*) from events.mt_events e where e.stream_id = s.id)),
                   (select abs((select count(*) from traceability.receipt) - (select count(*) from events.mt_events)))
            """);
        command.CommandTimeout = 120;
        command.Parameters.Add(new() { Value = ids.ToArray() });
        command.Parameters.Add(new() { Value = ids.Select(i => acknowledged[i].Stream).ToArray() });
        command.Parameters.Add(new() { Value = ids.Select(i => acknowledged[i].Version).ToArray() });
        await using var reader = await command.ExecuteReaderAsync();
        await reader.ReadAsync();
        var found = string.Create(
            CultureInfo.InvariantCulture,
            $"lost {reader.GetInt64(0)}, without receipt {reader.GetInt64(1)}, doubled {reader.GetInt64(2)}, broken streams {reader.GetInt64(3)}, receipts without event {reader.GetInt64(4)}");
        Assert.Equal("lost 0, without receipt 0, doubled 0, broken streams 0, receipts without event 0", found);
    }

    /// <summary>At the end: everything given is acknowledged and kept, nothing else is stored, and what is derived is what a fresh judgement says.</summary>
    public async Task RequireWholeAsync(NpgsqlDataSource database)
    {
        Assert.Equal(Given, Acknowledged);
        await RequireKeptAsync(database, all: true);
        Assert.Equal(Given, await Tables.CountAsync(database, "events.mt_events"));
        await Tables.SettleAsync(database);
        Tables.RequireNone(await FreshJudgement.DifferencesAsync(database));
        Tables.RequireNone(await Yields.DifferencesAsync(database));
    }
}

/// <summary>The yield counters, which are moved by differences, beside the rows that they count.</summary>
internal static class Yields
{
    private static readonly (string Name, string Counted, string Rows)[] Pairs =
    [
        ("steps",
         "select item, variant, revision, step, station, day, sum(attempts) a, sum(defects) d, sum(opportunities) o from (select item, variant, revision, step, station, day, attempts, defects, opportunities from traceability.step_yield_day union all select item, variant, revision, step, station, day, attempts, defects, opportunities from traceability.step_yield_change) c group by 1, 2, 3, 4, 5, 6 having sum(attempts) <> 0",
         "select item, variant, revision, step, station, day, count(*) a, sum(defects) d, sum(opportunities) o from traceability.step_result group by 1, 2, 3, 4, 5, 6"),
        ("units",
         "select item, variant, revision, day, sum(ended) e, sum(passed) p, sum(scrapped) s from (select item, variant, revision, day, ended, passed, scrapped from traceability.unit_yield_day union all select item, variant, revision, day, ended, passed, scrapped from traceability.unit_yield_change) c group by 1, 2, 3, 4 having sum(ended) <> 0",
         "select item, variant, revision, day, count(*) e, count(*) filter (where passed) p, count(*) filter (where is_scrapped) s from traceability.unit_result group by 1, 2, 3, 4"),
    ];

    /// <summary>Where the two say something else; empty if nowhere.</summary>
    public static async Task<string> DifferencesAsync(NpgsqlDataSource database)
    {
        List<string> lines = [];
        foreach (var (name, counted, rows) in Pairs)
        {
            // One statement, so that the folder can't move anything between the two.
            await using var command = database.CreateCommand($"select '{name} ' || to_jsonb(x)::text from (select c.*, 'counted' as by from ({counted}) c union all select r.*, 'rows' from ({rows}) r) x");
            await using var reader = await command.ExecuteReaderAsync();
            while (await reader.ReadAsync())
            {
                lines.Add(reader.GetString(0));
            }
        }

        string[] Of(string by) => [.. lines.Where(l => l.Contains($"\"by\": \"{by}\"", StringComparison.Ordinal)).Select(l => l.Replace($"\"by\": \"{by}\"", string.Empty, StringComparison.Ordinal))];
        return Tables.Difference(Of("rows"), Of("counted"));
    }
}
