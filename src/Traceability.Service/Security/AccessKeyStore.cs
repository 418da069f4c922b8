using System.Security.Cryptography;
using Npgsql;
using Traceability.Domain.Primitives;

namespace Traceability.Service.Security;

/// <summary>The keys in the database.</summary>
internal sealed class AccessKeyStore(NpgsqlDataSource database)
{
    private const string Columns = "id, name, role, station, created_at, revoked_at";

    /// <summary>What became of a revocation.</summary>
    public enum Revocation
    {
        /// <summary>The key no longer works, since now or since earlier.</summary>
        Done,

        /// <summary>There is no such key.</summary>
        Unknown,

        /// <summary>It is the only administrator key in force: nobody could make another.</summary>
        LastAdministrator,
    }

    /// <summary>Stores a key; false if its name is taken.</summary>
    public async Task<bool> AddAsync(AccessKey key, byte[] hash, CancellationToken cancellation)
    {
        await using var connection = await database.OpenConnectionAsync(cancellation);
        return await AddAsync(connection, key, hash, cancellation);
    }

    /// <summary>Stores a key in the connection's transaction; false if its name is taken.</summary>
    public static async Task<bool> AddAsync(NpgsqlConnection connection, AccessKey key, byte[] hash, CancellationToken cancellation)
    {
        await using var command = new NpgsqlCommand(
            """
            insert into traceability.access_key (id, name, role, station, hash, created_at) values ($1, $2, $3, $4, $5, $6)
            on conflict (name) do nothing
            """,
            connection)
        {
            Parameters =
            {
                new() { Value = key.Id },
                new() { Value = key.Name },
                new() { Value = key.Role },
                new() { Value = key.Station is { } station ? station.Value : DBNull.Value, NpgsqlDbType = NpgsqlTypes.NpgsqlDbType.Text },
                new() { Value = hash },
                new() { Value = key.CreatedAt.UtcDateTime },
            },
        };
        return await command.ExecuteNonQueryAsync(cancellation) == 1;
    }

    /// <summary>Every key, revoked ones too, by name.</summary>
    public async Task<IReadOnlyList<AccessKey>> ListAsync(CancellationToken cancellation)
    {
        await using var command = database.CreateCommand($"select {Columns} from traceability.access_key order by name collate \"C\"");
        await using var reader = await command.ExecuteReaderAsync(cancellation);
        List<AccessKey> keys = [];
        while (await reader.ReadAsync(cancellation))
        {
            keys.Add(Read(reader));
        }

        return keys;
    }

    /// <summary>The key in force that has this hash.</summary>
    public async Task<AccessKey?> FindAsync(byte[] hash, CancellationToken cancellation)
    {
        await using var command = database.CreateCommand($"select {Columns}, hash from traceability.access_key where hash = $1 and revoked_at is null");
        command.Parameters.Add(new() { Value = hash });
        await using var reader = await command.ExecuteReaderAsync(cancellation);

        // The index has compared the hashes already; the decision is still made by a comparison whose time says nothing.
        return await reader.ReadAsync(cancellation) && CryptographicOperations.FixedTimeEquals(reader.GetFieldValue<byte[]>(6), hash)
            ? Read(reader)
            : null;
    }

    /// <summary>Revokes a key; a repeat changes nothing.</summary>
    public async Task<Revocation> RevokeAsync(Guid id, DateTimeOffset at, CancellationToken cancellation)
    {
        await using var connection = await database.OpenConnectionAsync(cancellation);
        await using var transaction = await connection.BeginTransactionAsync(cancellation);
        await LockAsync(connection, cancellation);
        await using var command = new NpgsqlCommand(
            """
            with asked as (
                select id, revoked_at,
                    role = 'admin' and revoked_at is null
                    and (select count(*) from traceability.access_key where role = 'admin' and revoked_at is null) = 1 as is_last
                from traceability.access_key where id = $1
            ), done as (
                update traceability.access_key k set revoked_at = $2
                from asked a where k.id = a.id and a.revoked_at is null and not a.is_last
            )
            select is_last from asked
            """,
            connection)
        {
            Parameters = { new() { Value = id }, new() { Value = at.UtcDateTime } },
        };
        var isLast = await command.ExecuteScalarAsync(cancellation) as bool?;
        await transaction.CommitAsync(cancellation);
        return isLast switch
        {
            null => Revocation.Unknown,
            true => Revocation.LastAdministrator,
            false => Revocation.Done,
        };
    }

    /// <summary>Until the transaction ends, nobody else changes keys: two revocations can't each leave the other as the last one.</summary>
    public static async Task LockAsync(NpgsqlConnection connection, CancellationToken cancellation)
    {
        await using var command = new NpgsqlCommand("lock table traceability.access_key in share row exclusive mode", connection);
        await command.ExecuteNonQueryAsync(cancellation);
    }

    private static AccessKey Read(NpgsqlDataReader reader) => new(
        reader.GetGuid(0),
        reader.GetString(1),
        reader.GetString(2),
        reader.IsDBNull(3) ? null : StationCode.Parse(reader.GetString(3)),
        reader.GetFieldValue<DateTimeOffset>(4),
        reader.IsDBNull(5) ? null : reader.GetFieldValue<DateTimeOffset>(5));
}
