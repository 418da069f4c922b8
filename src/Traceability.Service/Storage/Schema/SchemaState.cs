using Npgsql;

namespace Traceability.Service.Storage.Schema;

/// <summary>How the database's form compares with the one that this version of the service knows.</summary>
/// <param name="Missing">Migrations that were not applied, in order.</param>
/// <param name="Edited">Names of applied ones whose text is another one now.</param>
/// <param name="Newer">Names of applied ones that this version doesn't know, and which are marked compatible.</param>
/// <param name="Foreign">Names of applied ones that this version doesn't know and can't work with.</param>
internal sealed record SchemaState(
    ImmutableArray<Migration> Missing, ImmutableArray<string> Edited, ImmutableArray<string> Newer, ImmutableArray<string> Foreign)
{
    private sealed record Applied(string Name, string? Checksum, bool IsCompatible);

    /// <summary>Whether the service can work with it; newer compatible migrations don't matter.</summary>
    public bool IsUsable => Missing.IsEmpty && Edited.IsEmpty && Foreign.IsEmpty;

    /// <summary>What is wrong, and what to do; null if nothing is.</summary>
    public string? Trouble =>
        !Foreign.IsEmpty ? $"The database was brought to a form by a newer version that this one can't work with ({string.Join(", ", Foreign)}). Run that version."
        : !Edited.IsEmpty ? $"These migrations were applied with another text than this program has: {string.Join(", ", Edited)}. A migration is never edited once it was applied; run the program that belongs to the database."
        : !Missing.IsEmpty ? $"The database lacks {string.Join(", ", Missing.Select(m => m.Name))}. Apply them with the command 'migrate' (or by hand: 'migrate --script'), then restart the service."
        : null;

    /// <summary>Reads what was applied and compares. A database without our tables lacks everything.</summary>
    /// <param name="connection">The database.</param>
    /// <param name="known">The migrations of this version.</param>
    /// <param name="cancellation">Gives up.</param>
    public static async Task<SchemaState> ReadAsync(NpgsqlConnection connection, ImmutableArray<Migration> known, CancellationToken cancellation)
    {
        var applied = await AppliedAsync(connection, cancellation);
        var numbers = known.Select(m => m.Number).ToHashSet();
        return new(
            [.. known.Where(m => !applied.ContainsKey(m.Number))],
            [.. known.Where(m => applied.TryGetValue(m.Number, out var a) && a.Checksum is { } sum && sum != m.Checksum).Select(m => m.Name)],
            [.. applied.Where(a => !numbers.Contains(a.Key) && a.Value.IsCompatible).Select(a => a.Value.Name)],
            [.. applied.Where(a => !numbers.Contains(a.Key) && !a.Value.IsCompatible).Select(a => a.Value.Name)]);
    }

    private static async Task<SortedDictionary<int, Applied>> AppliedAsync(NpgsqlConnection connection, CancellationToken cancellation)
    {
        var applied = new SortedDictionary<int, Applied>();

        // The two columns came later than the table; before, nothing was known of a migration but its name.
        const string Columns = "select count(*) from information_schema.columns where table_schema = 'traceability' and table_name = 'migration' and column_name in ('number', 'checksum')";
        await using var columns = new NpgsqlCommand(Columns, connection);
        var found = (long)(await columns.ExecuteScalarAsync(cancellation))!;
        if (found == 0)
        {
            return applied;
        }

        await using var look = new NpgsqlCommand(
            found == 2
                ? "select number, name, checksum, is_compatible from traceability.migration"
                : "select number, name, null::text, false from traceability.migration",
            connection);
        await using var reader = await look.ExecuteReaderAsync(cancellation);
        while (await reader.ReadAsync(cancellation))
        {
            applied[reader.GetInt32(0)] = new(reader.GetString(1), reader.IsDBNull(2) ? null : reader.GetString(2), reader.GetBoolean(3));
        }

        return applied;
    }
}

/// <summary>The database has a form that this version must not touch.</summary>
public sealed class SchemaException(string message) : Exception(message);
