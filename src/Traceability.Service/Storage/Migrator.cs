using System.Globalization;
using System.Reflection;
using JasperFx;
using Marten;
using Npgsql;

namespace Traceability.Service.Storage;

/// <summary>Brings the database to the form that this version of the service needs.</summary>
/// <remarks>
/// Marten makes its own event tables. Ours come from the numbered SQL files beside this one, each applied once, in
/// order, in a transaction of its own. Two services that start at once take turns at an advisory lock.
/// </remarks>
internal sealed class Migrator(NpgsqlDataSource database, IDocumentStore store)
{
    private const string Folder = "Traceability.Service.Storage.Migrations.";
    private const long LockKey = 7_270_001;

    /// <summary>Applies what is missing; does nothing when all is there.</summary>
    public async Task ApplyAsync(CancellationToken cancellation)
    {
        await using var connection = await database.OpenConnectionAsync(cancellation);
        await ExecuteAsync(connection, $"select pg_advisory_lock({LockKey})", cancellation);
        try
        {
            if (!await HasEventTablesAsync(connection, cancellation))
            {
                // Once only: a comparison would later put back the foreign key that our scripts take away.
                await store.Storage.ApplyAllConfiguredChangesToDatabaseAsync(AutoCreate.CreateOrUpdate);
            }

            await ExecuteAsync(
                connection,
                """
                create schema if not exists traceability;
                create table if not exists traceability.migration (
                    number integer primary key, name text not null, applied_at timestamptz not null default now())
                """,
                cancellation);
            var applied = await AppliedAsync(connection, cancellation);
            foreach (var script in Scripts().Where(s => !applied.Contains(s.Number)))
            {
                await ApplyAsync(connection, script, cancellation);
            }
        }
        finally
        {
            await ExecuteAsync(connection, $"select pg_advisory_unlock({LockKey})", CancellationToken.None);
        }
    }

    /// <summary>The names of our scripts that the database has not had; empty when it has this version's form.</summary>
    public static async Task<IReadOnlyList<string>> MissingAsync(NpgsqlConnection connection, CancellationToken cancellation)
    {
        var applied = await AppliedAsync(connection, cancellation);
        return [.. Scripts().Where(s => !applied.Contains(s.Number)).Select(s => s.Resource[Folder.Length..])];
    }

    private static IEnumerable<(int Number, string Resource)> Scripts() =>
        Assembly.GetExecutingAssembly().GetManifestResourceNames()
            .Where(n => n.StartsWith(Folder, StringComparison.Ordinal))
            .Select(n => (int.Parse(n.AsSpan(Folder.Length, 4), NumberStyles.None, CultureInfo.InvariantCulture), n))
            .OrderBy(s => s.Item1);

    private static async Task<HashSet<int>> AppliedAsync(NpgsqlConnection connection, CancellationToken cancellation)
    {
        var applied = new HashSet<int>();
        await using var command = new NpgsqlCommand("select number from traceability.migration", connection);
        await using var reader = await command.ExecuteReaderAsync(cancellation);
        while (await reader.ReadAsync(cancellation))
        {
            applied.Add(reader.GetInt32(0));
        }

        return applied;
    }

    private static async Task<bool> HasEventTablesAsync(NpgsqlConnection connection, CancellationToken cancellation)
    {
        await using var command = new NpgsqlCommand($"select to_regclass('{EventStore.Schema}.mt_events') is not null", connection);
        return (bool)(await command.ExecuteScalarAsync(cancellation))!;
    }

    private static async Task ApplyAsync(NpgsqlConnection connection, (int Number, string Resource) script, CancellationToken cancellation)
    {
        await using var stream = Assembly.GetExecutingAssembly().GetManifestResourceStream(script.Resource)!;
        using var text = new StreamReader(stream);
        await using var transaction = await connection.BeginTransactionAsync(cancellation);
        await ExecuteAsync(connection, "set local search_path to traceability;" + await text.ReadToEndAsync(cancellation), cancellation);
        await using var note = new NpgsqlCommand("insert into traceability.migration (number, name) values ($1, $2)", connection)
        {
            Parameters = { new() { Value = script.Number }, new() { Value = script.Resource[Folder.Length..] } },
        };
        await note.ExecuteNonQueryAsync(cancellation);
        await transaction.CommitAsync(cancellation);
    }

    private static async Task ExecuteAsync(NpgsqlConnection connection, string sql, CancellationToken cancellation)
    {
        await using var command = new NpgsqlCommand(sql, connection);
        await command.ExecuteNonQueryAsync(cancellation);
    }
}
