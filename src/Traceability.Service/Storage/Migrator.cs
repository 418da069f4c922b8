using JasperFx;
using Marten;
using Npgsql;
using Traceability.Service.Storage.Schema;

namespace Traceability.Service.Storage;

/// <summary>Brings the database to the form that this version of the service needs.</summary>
/// <remarks>
/// Marten makes its own event tables, once. Everything else comes from the numbered SQL files, each applied once, in order, in a transaction of its
/// own, with the checksum of its text. Two services that start at once take turns at an advisory lock.
/// </remarks>
internal sealed class Migrator(NpgsqlDataSource database, IDocumentStore store)
{
    /// <summary>Our table of what was applied; repeatable.</summary>
    internal const string Ledger =
        """
        create schema if not exists traceability;
        create table if not exists traceability.migration (
            number integer primary key, name text not null, applied_at timestamptz not null default now());
        alter table traceability.migration add column if not exists checksum text, add column if not exists is_compatible boolean not null default false;

        """;

    private const long LockKey = 7_270_001;

    /// <summary>Applies what is missing; does nothing when all is there.</summary>
    /// <exception cref="SchemaException">The database has a form that this version must not touch.</exception>
    public async Task<IReadOnlyList<string>> ApplyAsync(CancellationToken cancellation)
    {
        // A session of its own: a migration may take long, and the lock ends with the session.
        await using var connection = await OpenAsync(cancellation);
        await ExecuteAsync(connection, $"select pg_advisory_lock({LockKey})", cancellation);
        try
        {
            var state = await SchemaState.ReadAsync(connection, Migration.All, cancellation);
            Refuse(state);
            if (!await HasEventTablesAsync(connection, cancellation))
            {
                // Once only: from then on numbered files change them, too, and a comparison would take that back.
                await store.Storage.ApplyAllConfiguredChangesToDatabaseAsync(AutoCreate.CreateOrUpdate);
            }

            await ExecuteAsync(connection, Ledger, cancellation);
            await AdoptAsync(connection, cancellation);
            foreach (var migration in state.Missing)
            {
                await ApplyAsync(connection, migration, cancellation);
            }

            return [.. state.Missing.Select(m => m.Name)];
        }
        finally
        {
            await ExecuteAsync(connection, $"select pg_advisory_unlock({LockKey})", CancellationToken.None);
        }
    }

    /// <summary>How the database's form compares, our part.</summary>
    public async Task<SchemaState> StateAsync(CancellationToken cancellation)
    {
        await using var connection = await OpenAsync(cancellation);
        return await SchemaState.ReadAsync(connection, Migration.All, cancellation);
    }

    /// <summary>Whether the event store's tables are there.</summary>
    public async Task<bool> HasEventTablesAsync(CancellationToken cancellation)
    {
        await using var connection = await OpenAsync(cancellation);
        return await HasEventTablesAsync(connection, cancellation);
    }

    /// <summary>Throws if the database must not be touched by this version.</summary>
    internal static void Refuse(SchemaState state)
    {
        if (!state.Foreign.IsEmpty || !state.Edited.IsEmpty)
        {
            throw new SchemaException(state.Trouble!);
        }
    }

    private static async Task<bool> HasEventTablesAsync(NpgsqlConnection connection, CancellationToken cancellation)
    {
        await using var command = new NpgsqlCommand($"select to_regclass('{EventStore.Schema}.mt_events') is not null", connection);
        return (bool)(await command.ExecuteScalarAsync(cancellation))!;
    }

    // Applied before checksums were kept: from now on the text counts.
    private static async Task AdoptAsync(NpgsqlConnection connection, CancellationToken cancellation)
    {
        foreach (var migration in Migration.All)
        {
            await using var note = new NpgsqlCommand("update traceability.migration set checksum = $2, is_compatible = $3 where number = $1 and checksum is null", connection);
            note.Parameters.Add(new() { Value = migration.Number });
            note.Parameters.Add(new() { Value = migration.Checksum });
            note.Parameters.Add(new() { Value = migration.IsCompatible });
            await note.ExecuteNonQueryAsync(cancellation);
        }
    }

    private static async Task ApplyAsync(NpgsqlConnection connection, Migration migration, CancellationToken cancellation)
    {
        await using var transaction = await connection.BeginTransactionAsync(cancellation);
        await ExecuteAsync(connection, SchemaScript.Of(migration), cancellation);
        await transaction.CommitAsync(cancellation);
    }

    private static async Task ExecuteAsync(NpgsqlConnection connection, string sql, CancellationToken cancellation)
    {
        await using var command = new NpgsqlCommand(sql, connection) { CommandTimeout = 0 };
        await command.ExecuteNonQueryAsync(cancellation);
    }

    private async Task<NpgsqlConnection> OpenAsync(CancellationToken cancellation)
    {
        var connection = await database.OpenConnectionAsync(cancellation);
        await ExecuteAsync(connection, "set statement_timeout = 0; set lock_timeout = 0", cancellation);
        return connection;
    }
}
