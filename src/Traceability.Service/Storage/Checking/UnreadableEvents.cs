using Npgsql;
using NpgsqlTypes;
using Traceability.Domain.Facts;

namespace Traceability.Service.Storage.Checking;

/// <summary>The table of events that can't be read, and what follows from its rows.</summary>
internal static class UnreadableEvents
{
    // As the writer of groups has it: whoever changes what judgements look at holds this lock alone.
    private const string Lock = "select pg_advisory_xact_lock(7270002)";
    private const string Ask = "insert into traceability.rejudge (unit, asked_at) select distinct f.unit, now() from (";
    private const string Renew = ") f on conflict (unit) do update set asked_at = excluded.asked_at";
    private const int PageMax = 500;

    /// <summary>Notes an event; false if it was noted before. What it touches is judged anew.</summary>
    public static async Task<bool> NoteAsync(NpgsqlConnection connection, StoredEvent stored, string reason, CancellationToken cancellation)
    {
        await using var transaction = await connection.BeginTransactionAsync(cancellation);
        await ExecuteAsync(connection, Lock, [], cancellation);
        var isNew = await ExecuteAsync(
            connection,
            "insert into traceability.unreadable_event (seq_id, event_id, stream, name, reason) values ($1, $2, $3, $4, $5) on conflict do nothing",
            [Number(stored.Seq), new() { Value = stored.Id }, Text(stored.Stream), Text(stored.Name), Text(reason)],
            cancellation) == 1;
        if (isNew)
        {
            await TouchAsync(connection, stored.Stream, cancellation);
        }

        await transaction.CommitAsync(cancellation);
        return isNew;
    }

    /// <summary>Takes an event off that can be read, or is gone.</summary>
    public static async Task TakeOffAsync(NpgsqlConnection connection, long seq, string stream, CancellationToken cancellation)
    {
        await using var transaction = await connection.BeginTransactionAsync(cancellation);
        await ExecuteAsync(connection, Lock, [], cancellation);
        if (await ExecuteAsync(connection, "delete from traceability.unreadable_event where seq_id = $1", [Number(seq)], cancellation) == 1)
        {
            await TouchAsync(connection, stream, cancellation);
        }

        await transaction.CommitAsync(cancellation);
    }

    /// <summary>The noted events that can be read now, by number and stream.</summary>
    public static async Task<IReadOnlyList<(long Seq, string Stream)>> ReadableNowAsync(NpgsqlConnection connection, CancellationToken cancellation)
    {
        var noted = new Dictionary<long, string>();
        await using (var command = new NpgsqlCommand($"select seq_id, stream from traceability.unreadable_event order by seq_id limit {PageMax}", connection))
        await using (var reader = await command.ExecuteReaderAsync(cancellation))
        {
            while (await reader.ReadAsync(cancellation))
            {
                noted[reader.GetInt64(0)] = reader.GetString(1);
            }
        }

        if (noted.Count == 0)
        {
            return [];
        }

        var stored = await StoredEvents.ReadAsync(
            connection,
            "select e.seq_id, e.id, e.stream_id, e.type, e.data::text, e.timestamp from events.mt_events e where e.seq_id = any($1)",
            [new() { Value = noted.Keys.ToArray() }],
            cancellation);
        var unreadable = stored.Where(e => e.Unreadable is not null).Select(e => e.Seq).ToHashSet();
        return [.. noted.Where(n => !unreadable.Contains(n.Key)).Select(n => (n.Key, n.Value))];
    }

    /// <summary>Asks for marked units again that nothing noted touches: another version marked them, or it isn't noted yet what does.</summary>
    /// <returns>The streams that they were judged by.</returns>
    public static async Task<string[]> AskForUntouchedAsync(NpgsqlConnection connection, CancellationToken cancellation)
    {
        await using var command = new NpgsqlCommand(
            $"""
            with untouched as (
              select u.unit, u.item from traceability.unit u
              where u.has_unreadable
                and not exists (select from traceability.finding f where f.unit = u.unit and f.kind = 'unit-not-judged')
                and not exists (
                  select from traceability.unreadable_event e
                  where e.stream = 'unit/' || u.unit or e.stream = 'routing/' || u.item
                    or starts_with(e.stream, 'item/') or starts_with(e.stream, 'station/') or starts_with(e.stream, 'site/') or starts_with(e.stream, 'defect/')
                    or exists (select from traceability.dependency d where d.subject = e.stream and d.unit = u.unit)
                    or exists (select from traceability.cure_window w where w.unit = u.unit and starts_with(e.stream, 'temperature/' || w.place || '/'))
                    or exists (select from traceability.material_usage m where m.unit = u.unit and e.stream = 'lot/' || m.item || '/' || m.lot)
                    or exists (select from traceability.step_result r where r.unit = u.unit and e.stream = 'person/' || r.person))
              limit {PageMax}),
            asked as (
              insert into traceability.rejudge (unit, asked_at) select unit, now() from untouched on conflict (unit) do nothing)
            select 'unit/' || unit from untouched union select 'routing/' || item from untouched union select 'item/' || item from untouched
            union select 'lot/' || m.item || '/' || m.lot from untouched u join traceability.material_usage m on m.unit = u.unit
            union select 'person/' || r.person from untouched u join traceability.step_result r on r.unit = u.unit
            union select 'unit/' || i.component from untouched u join traceability.installation i on i.parent = u.unit
            """,
            connection);
        List<string> streams = [];
        await using var reader = await command.ExecuteReaderAsync(cancellation);
        while (await reader.ReadAsync(cancellation))
        {
            streams.Add(reader.GetString(0));
        }

        return [.. streams];
    }

    /// <summary>Asks for the units again that could not be judged: this may be a version that can.</summary>
    public static Task AskForNotJudgedAsync(NpgsqlConnection connection, CancellationToken cancellation) =>
        ExecuteAsync(connection, $"{Ask} select unit from traceability.finding where kind = 'unit-not-judged' {Renew}", [], cancellation);

    /// <summary>Up to which number new events have been looked at, and the largest number that can be seen.</summary>
    public static async Task<(long Tail, long Last)> TailAsync(NpgsqlConnection connection, CancellationToken cancellation)
    {
        await using var command = new NpgsqlCommand(
            "select tail, coalesce((select max(seq_id) from events.mt_events), 0) from traceability.event_check", connection);
        await using var reader = await command.ExecuteReaderAsync(cancellation);
        await reader.ReadAsync(cancellation);
        return (reader.GetInt64(0), reader.GetInt64(1));
    }

    /// <summary>Notes how far new events have been looked at.</summary>
    public static Task SetTailAsync(NpgsqlConnection connection, long tail, CancellationToken cancellation) =>
        ExecuteAsync(connection, "update traceability.event_check set tail = greatest(tail, $1)", [Number(tail)], cancellation);

    /// <summary>Where the round through all events stands; null while none is due.</summary>
    public static async Task<long?> RoundAsync(NpgsqlConnection connection, TimeSpan every, CancellationToken cancellation)
    {
        await using var command = new NpgsqlCommand(
            "select round from traceability.event_check where round > 0 or round_end is null or round_end < now() - $1", connection)
        {
            Parameters = { new() { Value = every, NpgsqlDbType = NpgsqlDbType.Interval } },
        };
        return (long?)await command.ExecuteScalarAsync(cancellation);
    }

    /// <summary>Notes how far the round has come; null: to its end.</summary>
    public static Task SetRoundAsync(NpgsqlConnection connection, long? seq, CancellationToken cancellation) => seq is { } at
        ? ExecuteAsync(connection, "update traceability.event_check set round = $1", [Number(at)], cancellation)
        : ExecuteAsync(connection, "update traceability.event_check set round = 0, round_end = now()", [], cancellation);

    // A unit's own event changes that unit; one of anything else all units that look at it, and what instances hold in memory.
    private static async Task TouchAsync(NpgsqlConnection connection, string stream, CancellationToken cancellation)
    {
        var slash = stream.IndexOf('/', StringComparison.Ordinal);
        var (kind, name) = (stream[..Math.Max(slash, 0)], stream[(slash + 1)..]);
        if (!stream.StartsWith(StreamNames.UnitPrefix, StringComparison.Ordinal))
        {
            await ExecuteAsync(
                connection,
                """
                with clock as (update traceability.reference_clock set seq = seq + 1 returning seq)
                insert into traceability.reference_stream (stream, kind, seq) select $1, $2, seq from clock
                on conflict (stream) do update set seq = excluded.seq
                """,
                [Text(stream), Text(kind)],
                cancellation);
        }

        var units = kind switch
        {
            "unit" => "select u.unit from traceability.unit u where u.unit = $2 union select d.unit from traceability.dependency d where d.subject = $1",
            "routing" => "select u.unit from traceability.unit u where $1 <> '' and u.item = $2",
            "item" => "select u.unit from traceability.unit u where $1 <> '' and u.item = $2 union select m.unit from traceability.material_usage m where m.item = $2",
            "defect" => "select f.unit from traceability.finding f where $1 <> '' and f.kind like 'defect-%' and f.rule = $2 union select n.unit from traceability.nonconformance n where n.defect = $2",
            "site" or "station" => "select u.unit from traceability.unit u where $1 <> '' and $2 <> ''",
            "person" => "select d.unit from traceability.dependency d where d.subject = $1 union select r.unit from traceability.step_result r where r.person = $2",
            "temperature" =>
                """
                select w.unit from traceability.cure_window w where $1 <> '' and w.place = split_part($2, '/', 1)
                  and w.looked_to >= split_part($2, '/', 2)::date - interval '1 day' and w.looked_from <= split_part($2, '/', 2)::date + interval '2 days'
                """,
            "lot" =>
                $"""
                select d.unit from traceability.dependency d where d.subject = $1
                union {LotNaming.UnitsOf.Replace("$1::text[]", "array[$2]::text[]", StringComparison.Ordinal)}
                """,
            "tool" => "select d.unit from traceability.dependency d where d.subject = $1 union select t.unit from traceability.tool_usage t where t.tool = $2",
            _ => "select d.unit from traceability.dependency d where d.subject = $1 and $2 <> ''",
        };
        await ExecuteAsync(connection, $"{Ask} {units} {Renew}", [Text(stream), Text(name)], cancellation);
    }

    private static NpgsqlParameter Number(long value) => new() { Value = value, NpgsqlDbType = NpgsqlDbType.Bigint };

    private static NpgsqlParameter Text(string value) => new() { Value = value, NpgsqlDbType = NpgsqlDbType.Text };

    private static async Task<int> ExecuteAsync(NpgsqlConnection connection, string sql, NpgsqlParameter[] parameters, CancellationToken cancellation)
    {
        await using var command = new NpgsqlCommand(sql, connection);
        command.Parameters.AddRange(parameters);
        return await command.ExecuteNonQueryAsync(cancellation);
    }
}
