using Npgsql;
using NpgsqlTypes;
using Traceability.Contracts.Scope;
using Traceability.Domain.Primitives;
using Traceability.Domain.Scope;

namespace Traceability.Service.Features.Scope;

/// <summary>Questions for a scope that are saved under a name. Read from the primary, so that what was saved is found at once.</summary>
internal sealed class SavedScopes(NpgsqlDataSource database, TimeProvider clock)
{
    private const string ColumnNames = "name, title, suspect::text, author, saved_at, version";

    /// <summary>What came of saving.</summary>
    internal enum Outcome
    {
        /// <summary>It is saved anew.</summary>
        Created,

        /// <summary>It took the place of the earlier one, or was there as it is.</summary>
        Replaced,

        /// <summary>Another one is saved under the name, and not the version that was to be replaced.</summary>
        Refused,
    }

    /// <summary>The question; null if none has the name.</summary>
    public async Task<SavedScope?> FindAsync(Code name, CancellationToken cancellation) =>
        (await ReadAsync($"select {ColumnNames} from traceability.scope_question where name = $1", [Text(name.Value)], cancellation)).FirstOrDefault();

    /// <summary>Questions by name (ordinal), at most so many after one.</summary>
    public Task<List<SavedScope>> ListAsync(string? after, int limit, CancellationToken cancellation) => ReadAsync(
        $"""
        select {ColumnNames} from traceability.scope_question
        where $1::text is null or name collate "C" > $1 order by name collate "C" limit $2
        """,
        [Text(after), new() { Value = limit }],
        cancellation);

    /// <summary>Saves a question, unless that would replace another version than the one named.</summary>
    /// <param name="name">Its name.</param>
    /// <param name="title">Its title.</param>
    /// <param name="suspect">What is suspected.</param>
    /// <param name="replaces">The version that it takes the place of; null: it is to be the first.</param>
    /// <param name="author">Who saves it.</param>
    /// <param name="cancellation">Gives up.</param>
    /// <returns>What came of it, and what is saved under the name now; null where a version was named and there is none.</returns>
    public async Task<(Outcome Outcome, SavedScope? Saved)> SaveAsync(
        Code name, string title, Suspect suspect, int? replaces, string author, CancellationToken cancellation)
    {
        var text = SuspectJson.Write(suspect);
        NpgsqlParameter[] Parameters() =>
        [
            Text(name.Value), Text(title), new() { Value = text, NpgsqlDbType = NpgsqlDbType.Jsonb }, Text(author), new() { Value = clock.GetUtcNow().UtcDateTime },
        ];
        var saved = replaces is { } version
            ? await ReadAsync(
                $"""
                update traceability.scope_question set title = $2, suspect = $3, author = $4, saved_at = $5, version = version + 1
                where name = $1 and version = $6 returning {ColumnNames}
                """,
                [.. Parameters(), new() { Value = version }],
                cancellation)
            : await ReadAsync(
                $"""
                insert into traceability.scope_question (name, title, suspect, author, saved_at, version) values ($1, $2, $3, $4, $5, 1)
                on conflict (name) do nothing returning {ColumnNames}
                """,
                Parameters(),
                cancellation);
        if (saved is [var made])
        {
            return (replaces is null ? Outcome.Created : Outcome.Replaced, made);
        }

        // Sent again, since the answer was lost: that changes nothing.
        var there = await FindAsync(name, cancellation);
        var isSame = there is not null && string.Equals(there.Title, title, StringComparison.Ordinal)
            && string.Equals(System.Text.Json.JsonSerializer.Serialize(there.Suspect, Contracts.WireJson.Options), text, StringComparison.Ordinal);
        return (isSame ? Outcome.Replaced : Outcome.Refused, there);
    }

    /// <summary>Removes a question; false if none has the name.</summary>
    public async Task<bool> RemoveAsync(Code name, CancellationToken cancellation)
    {
        await using var command = database.CreateCommand("delete from traceability.scope_question where name = $1");
        command.Parameters.Add(Text(name.Value));
        return await command.ExecuteNonQueryAsync(cancellation) > 0;
    }

    private static NpgsqlParameter Text(string? value) => new() { Value = (object?)value ?? DBNull.Value, NpgsqlDbType = NpgsqlDbType.Text };

    private async Task<List<SavedScope>> ReadAsync(string sql, NpgsqlParameter[] parameters, CancellationToken cancellation)
    {
        var found = new List<SavedScope>();
        await using var command = database.CreateCommand(sql);
        command.Parameters.AddRange(parameters);
        await using var reader = await command.ExecuteReaderAsync(cancellation);
        while (await reader.ReadAsync(cancellation))
        {
            var suspect = SuspectJson.Parse(reader.GetString(2));
            found.Add(new(
                reader.GetString(0), reader.GetString(1), SuspectJson.View(suspect), suspect.ToString()!, reader.GetString(3), EvidenceSql.Time(reader, 4), reader.GetInt32(5)));
        }

        return found;
    }
}
