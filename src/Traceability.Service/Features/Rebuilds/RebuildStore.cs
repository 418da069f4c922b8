using System.Text.Json;
using Npgsql;
using NpgsqlTypes;
using Traceability.Contracts;
using Traceability.Contracts.Rebuilds;
using Traceability.Service.Storage;

namespace Traceability.Service.Features.Rebuilds;

/// <summary>The list of rebuilds, which every instance sees.</summary>
internal sealed class RebuildStore(NpgsqlDataSource database, TimeProvider clock)
{
    private const int ListedMax = 20;

    private const string Columns = "id, state, phase, is_compare_only, asked_by, started_at, ended_at, units, facts, caught_up, comparison::text, reason";

    /// <summary>Notes that one begins; gives its number.</summary>
    public async Task<long> BeginAsync(string askedBy, bool isCompareOnly, CancellationToken cancellation)
    {
        await using var command = database.CreateCommand(
            $"insert into traceability.rebuild (asked_by, is_compare_only, started_at, state, phase) values ($1, $2, $3, '{EnumNames<RebuildState>.Of(RebuildState.Running)}', 'preparing') returning id");
        command.Parameters.Add(new() { Value = askedBy });
        command.Parameters.Add(new() { Value = isCompareOnly });
        command.Parameters.Add(new() { Value = clock.GetUtcNow().UtcDateTime });
        return (long)(await command.ExecuteScalarAsync(cancellation))!;
    }

    /// <summary>Notes how one ended.</summary>
    public async Task EndAsync(long id, RebuildState state, RebuildComparison? comparison, string? reason, CancellationToken cancellation)
    {
        await using var command = database.CreateCommand("update traceability.rebuild set ended_at = $2, state = $3, comparison = $4, reason = $5 where id = $1");
        command.Parameters.Add(new() { Value = id });
        command.Parameters.Add(new() { Value = clock.GetUtcNow().UtcDateTime });
        command.Parameters.Add(new() { Value = EnumNames<RebuildState>.Of(state) });
        command.Parameters.Add(new() { Value = comparison is null ? DBNull.Value : JsonSerializer.Serialize(comparison, WireJson.Options), NpgsqlDbType = NpgsqlDbType.Jsonb });
        command.Parameters.Add(new() { Value = (object?)reason ?? DBNull.Value, NpgsqlDbType = NpgsqlDbType.Text });
        await command.ExecuteNonQueryAsync(cancellation);
    }

    /// <summary>Notes that what is said to run does not; only for whoever holds the lock that a running one would hold.</summary>
    public async Task InterruptAsync(CancellationToken cancellation)
    {
        await using var command = database.CreateCommand("update traceability.rebuild set ended_at = $1, state = $2, reason = $3 where state = $4");
        command.Parameters.Add(new() { Value = clock.GetUtcNow().UtcDateTime });
        command.Parameters.Add(new() { Value = EnumNames<RebuildState>.Of(RebuildState.Interrupted) });
        command.Parameters.Add(new() { Value = "The instance that worked on it ended. Ask for another one." });
        command.Parameters.Add(new() { Value = EnumNames<RebuildState>.Of(RebuildState.Running) });
        await command.ExecuteNonQueryAsync(cancellation);
    }

    /// <summary>The last ones, newest first; or only the one with this number.</summary>
    public async Task<ImmutableArray<Rebuild>> ListAsync(long? id, CancellationToken cancellation)
    {
        await using var command = database.CreateCommand(
            FormattableString.Invariant($"select {Columns} from traceability.rebuild where $1::bigint is null or id = $1 order by id desc limit {ListedMax}"));
        command.Parameters.Add(new() { Value = (object?)id ?? DBNull.Value, NpgsqlDbType = NpgsqlDbType.Bigint });
        await using var reader = await command.ExecuteReaderAsync(cancellation);
        var rebuilds = ImmutableArray.CreateBuilder<Rebuild>();
        while (await reader.ReadAsync(cancellation))
        {
            rebuilds.Add(Read(reader));
        }

        return rebuilds.ToImmutable();
    }

    private static Rebuild Read(NpgsqlDataReader r) => new()
    {
        Id = r.GetInt64(0),
        State = Enum.Parse<RebuildState>(r.GetString(1), ignoreCase: true),
        Phase = r.GetString(2),
        IsCompareOnly = r.GetBoolean(3),
        AskedBy = r.GetString(4),
        StartedAt = r.GetFieldValue<DateTimeOffset>(5),
        EndedAt = r.IsDBNull(6) ? null : r.GetFieldValue<DateTimeOffset>(6),
        Units = r.GetInt64(7),
        Facts = r.GetInt64(8),
        CaughtUp = r.GetInt64(9),
        Comparison = r.IsDBNull(10) ? null : JsonSerializer.Deserialize<RebuildComparison>(r.GetString(10), WireJson.Options),
        Reason = r.IsDBNull(11) ? null : r.GetString(11),
    };
}
