using System.Buffers;
using Npgsql;
using NpgsqlTypes;
using Traceability.Domain.Scope;

namespace Traceability.Service.Features.Scope;

/// <summary>Rows for a walk from the tables, as of the connection's snapshot.</summary>
/// <remarks>
/// Keys go as one array and each is looked up by its index, however large the planner believes the array or the tables to be: see
/// <see cref="ScopePlans"/> and <see cref="LevelSql"/>.
/// </remarks>
internal sealed partial class SqlScopeSource(NpgsqlConnection connection) : IScopeSource
{
    // Rows that clear, one more than are wanted if there are more.
    private const string FewCleared =
        $"""
        select u.unit from {EvidenceSql.Clearing}
        where not exists (select from traceability.unit x where x.unit = u.unit and x.has_unreadable) limit $7
        """;

    private readonly SeenEvidence _seen = new();

    /// <inheritdoc />
    public int FewUnits { get; init; } = 1_000;

    /// <summary>What so many of the rows say is kept as they are read, and isn't asked for again.</summary>
    public int EvidenceKept
    {
        get => _seen.Most;
        init => _seen.Most = value;
    }

    /// <summary>So many cleared rows are read to be counted here, rather than sending the members to be left out.</summary>
    public int ClearedMost { get; init; } = 1_000;

    /// <summary>Whether what clears a lot's units is likely to be asked for: few of them are then looked up with the lot, which saves a small scope a question.</summary>
    public bool CountsCleared { get; init; }

    /// <summary>So many cleared rows are looked up with the lot.</summary>
    public int ClearedAhead { get; init; } = 100;

    /// <inheritdoc />
    public async ValueTask<IReadOnlyDictionary<EvidenceKey, EvidenceRow>> EvidenceAsync(
        IReadOnlyCollection<EvidenceKey> keys, CancellationToken cancellation)
    {
        var (found, others) = _seen.Find(keys);
        EvidenceKey[][] kinds = [.. others.GroupBy(k => k.Kind).Select(k => k.ToArray())];
        if (kinds.Length == 0)
        {
            return found;
        }

        await using var batch = new NpgsqlBatch(connection);
        foreach (var asked in kinds)
        {
            batch.BatchCommands.Add(BatchCommand(
                EvidenceSql.Of(asked[0].Kind),
                [
                    Texts([.. asked.Select(k => k.Unit)]),
                    new() { Value = asked.Select(k => k.RowId).ToArray(), NpgsqlDbType = NpgsqlDbType.Array | NpgsqlDbType.Bigint },
                ]));
        }

        await using var reader = await batch.ExecuteReaderAsync(cancellation);
        foreach (var asked in kinds)
        {
            foreach (var (number, row) in await ReadAsync(reader, r => (r.GetInt32(0), EvidenceSql.Read(asked[0].Kind, r, 1)), cancellation))
            {
                found.Add(asked[number - 1], row);
            }

            await reader.NextResultAsync(cancellation);
        }

        return found;
    }

    /// <inheritdoc />
    public async ValueTask<int> CountClearedAsync(ImmutableArray<ClearingRule> rules, IReadOnlyCollection<string> members, CancellationToken cancellation)
    {
        var known = rules is [var only] && only == _cleared?.Rule ? _cleared : null;
        if (known?.IsAll == true)
        {
            return CountOthers(known.Units, members);
        }

        // Sending tens of thousands of members costs more than reading some cleared units: mostly there are few of them.
        if (members.Count > ClearedMost && known?.Most != ClearedMost)
        {
            var cleared = await ReadAsync(FewCleared, FewClearedOf(rules, ClearedMost), static r => r.GetString(0), cancellation);
            if (cleared.Count <= ClearedMost)
            {
                return CountOthers(cleared, members);
            }
        }

        await using var command = Command(
            $"""
            select count(*)::integer from (
                select u.unit from {EvidenceSql.Clearing} group by u.unit
                except all select * from unnest($7)
                except all select unit from traceability.unit where has_unreadable) c
            """,
            [.. Parameters(rules), Texts(members)]);
        return (int)(await command.ExecuteScalarAsync(cancellation))!;
    }

    /// <inheritdoc />
    public async ValueTask<IReadOnlyList<ClearedUnit>> ClearedAsync(
        ImmutableArray<ClearingRule> rules, IReadOnlyCollection<string> members, string? after, int limit, CancellationToken cancellation) =>
        await ReadAsync(
            $"""
            select distinct on (u.unit collate "C") u.unit, {EvidenceSql.UsageColumns}
            from {EvidenceSql.Clearing}
            where ($8::text is null or u.unit collate "C" > $8) and not exists (select from unnest($7) m (unit) where m.unit = u.unit)
                and not exists (select from traceability.unit x where x.unit = u.unit and x.has_unreadable)
            order by u.unit collate "C", u.used_from, u.record, u.lot collate "C", u.row_id limit $9
            """,
            [.. Parameters(rules), Texts(members), Text(after), new() { Value = limit, NpgsqlDbType = NpgsqlDbType.Integer }],
            static r => new ClearedUnit(r.GetString(0), EvidenceSql.Read(r, 1)),
            cancellation);

    private static NpgsqlParameter[] FewClearedOf(ImmutableArray<ClearingRule> rules, int most) =>
        [.. Parameters(rules), new() { Value = most + 1, NpgsqlDbType = NpgsqlDbType.Integer }];

    private static int CountOthers(List<string> cleared, IReadOnlyCollection<string> members)
    {
        var others = cleared.ToHashSet(StringComparer.Ordinal);
        others.ExceptWith(members);
        return others.Count;
    }

    // Each window once for every station that it names; one that names none, once for all.
    private static NpgsqlParameter[] Parameters(ImmutableArray<ClearingRule> rules)
    {
        (PresenceWindow Window, string? Station, SuspectFactor Factor)[] windows =
        [
            .. rules.SelectMany(r => r.Presence.Windows.SelectMany(w => w.Stations.IsEmpty
                ? [(w, (string?)null, r.Factor)]
                : w.Stations.Select(s => (w, (string?)s.Value, r.Factor)))),
        ];
        return
        [
            new() { Value = windows.Select(w => w.Window.From.UtcDateTime).ToArray(), NpgsqlDbType = NpgsqlDbType.Array | NpgsqlDbType.TimestampTz },
            new() { Value = windows.Select(w => w.Window.To.UtcDateTime).ToArray(), NpgsqlDbType = NpgsqlDbType.Array | NpgsqlDbType.TimestampTz },
            Texts([.. windows.Select(w => w.Station)]),
            Texts([.. windows.Select(w => w.Factor.Lot.Item.Value)]),
            Texts([.. windows.Select(w => w.Factor.Lot.Lot.Value)]),
            Texts([.. windows.Select(w => (w.Factor as SuspectContainer)?.Container.Value)]),
        ];
    }

    private static GapRow Gap(NpgsqlDataReader r) => new(
        r.GetString(0), r.GetInt64(1), ScopeNames.Gap(r.GetString(2)), r.GetString(3), NullableText(r, 4), Time(r, 5), NullableTime(r, 6), NullableText(r, 7));

    private static NpgsqlParameter Text(string? value) => new() { Value = (object?)value ?? DBNull.Value, NpgsqlDbType = NpgsqlDbType.Text };

    private static NpgsqlParameter Texts(IReadOnlyCollection<string?> values) =>
        new() { Value = values as string?[] ?? [.. values], NpgsqlDbType = NpgsqlDbType.Array | NpgsqlDbType.Text };

    private static NpgsqlParameter Instant(DateTimeOffset value) => new() { Value = value.UtcDateTime, NpgsqlDbType = NpgsqlDbType.TimestampTz };

    private static DateTimeOffset Time(NpgsqlDataReader r, int column) => EvidenceSql.Time(r, column);

    private static DateTimeOffset? NullableTime(NpgsqlDataReader r, int column) => r.IsDBNull(column) ? null : EvidenceSql.Time(r, column);

    private static string? NullableText(NpgsqlDataReader r, int column) => r.IsDBNull(column) ? null : r.GetString(column);

    private NpgsqlCommand Command(string sql, NpgsqlParameter[] parameters)
    {
        var command = new NpgsqlCommand(sql, connection);
        foreach (var parameter in parameters)
        {
            command.Parameters.Add(parameter);
        }

        return command;
    }

    private static NpgsqlBatchCommand BatchCommand(string sql, NpgsqlParameter[] parameters)
    {
        var command = new NpgsqlBatchCommand(sql);
        foreach (var parameter in parameters)
        {
            command.Parameters.Add(parameter);
        }

        return command;
    }

    private async ValueTask<List<T>> ReadAsync<T>(
        string sql, NpgsqlParameter[] parameters, Func<NpgsqlDataReader, T> read, CancellationToken cancellation)
    {
        await using var command = Command(sql, parameters);
        await using var reader = await command.ExecuteReaderAsync(cancellation);
        return await ReadAsync(reader, read, cancellation);
    }

    // For tens of thousands of rows: a list that grows would leave as much behind again.
    private static async ValueTask<T[]> ReadManyAsync<T>(NpgsqlDataReader reader, Func<NpgsqlDataReader, T> read, CancellationToken cancellation)
    {
        var (rows, count) = (ArrayPool<T>.Shared.Rent(64), 0);
        try
        {
            while (await reader.ReadAsync(cancellation))
            {
                if (count == rows.Length)
                {
                    var larger = ArrayPool<T>.Shared.Rent(2 * count);
                    rows.CopyTo(larger, 0);
                    ArrayPool<T>.Shared.Return(rows, clearArray: true);
                    rows = larger;
                }

                rows[count++] = read(reader);
            }

            return rows[..count];
        }
        finally
        {
            ArrayPool<T>.Shared.Return(rows, clearArray: true);
        }
    }

    private static async ValueTask<List<T>> ReadAsync<T>(NpgsqlDataReader reader, Func<NpgsqlDataReader, T> read, CancellationToken cancellation)
    {
        var rows = new List<T>();
        while (await reader.ReadAsync(cancellation))
        {
            rows.Add(read(reader));
        }

        return rows;
    }
}
