using System.Globalization;
using System.Security.Cryptography;
using Npgsql;

namespace Traceability.Service.Security;

/// <summary>Makes the key with which everything begins, when no administrator key is in force.</summary>
internal sealed class FirstAdministratorKey(NpgsqlDataSource database, RandomNumberGenerator random, TimeProvider clock)
{
    /// <summary>Name of the file in the data folder that holds the key.</summary>
    public const string FileName = "administrator-key";

    /// <summary>Makes the key if it is needed, shows it once and writes it to a file that only the service's user may read.</summary>
    /// <param name="folder">The data folder; made if it is missing.</param>
    /// <param name="console">Where it is shown. Not the log: logs are kept and sent on.</param>
    /// <param name="cancellation">Gives up.</param>
    /// <returns>Whether one was made.</returns>
    public async Task<bool> EnsureAsync(string folder, TextWriter console, CancellationToken cancellation)
    {
        await using var connection = await database.OpenConnectionAsync(cancellation);
        await using var transaction = await connection.BeginTransactionAsync(cancellation);

        // Two services that start at once on one database make one key.
        await AccessKeyStore.LockAsync(connection, cancellation);
        if (await CountAsync(connection, "role = 'admin' and revoked_at is null", cancellation) > 0)
        {
            return false;
        }

        var text = KeySecret.Make(random);
        _ = KeySecret.TryHash(text, out var hash);
        var earlier = await CountAsync(connection, "name like 'administrator%'", cancellation);
        var name = earlier == 0 ? "administrator" : string.Create(CultureInfo.InvariantCulture, $"administrator-{earlier + 1}");
        var now = clock.GetUtcNow();
        while (!await AccessKeyStore.AddAsync(connection, new(MakeId(), name, Roles.Admin, null, now, null), hash!, cancellation))
        {
            name += "-1";
        }

        // Shown before it is in force: a service that ends between the two makes another at the next start, and a key that
        // nobody has seen is never the only one.
        var trouble = await TryWriteAsync(folder, text, cancellation);
        await console.WriteLineAsync(Block(text, Path.Combine(folder, FileName), trouble));
        await console.FlushAsync(cancellation);
        await transaction.CommitAsync(cancellation);
        return true;
    }

    private static async Task<long> CountAsync(NpgsqlConnection connection, string condition, CancellationToken cancellation)
    {
        await using var command = new NpgsqlCommand($"select count(*) from traceability.access_key where {condition}", connection);
        return (long)(await command.ExecuteScalarAsync(cancellation))!;
    }

    private static string Block(string text, string path, string? trouble) =>
        $"""

        ------------------------------------------------------------------
         Administrator key, shown this once:

         {text}

         {(trouble is null ? $"It is also in {path}," : $"It could NOT be written to {path}: {trouble}")}
         {(trouble is null ? "which only this user may read." : "Keep it now; it can't be shown again.")}
        ------------------------------------------------------------------

        """;

    /// <summary>Writes the file whole or not at all; the reason if that fails.</summary>
    private static async Task<string?> TryWriteAsync(string folder, string text, CancellationToken cancellation)
    {
        try
        {
            Directory.CreateDirectory(folder);
            var unfinished = Path.Combine(folder, FileName + ".new");
            File.Delete(unfinished);
            var options = new FileStreamOptions { Mode = FileMode.CreateNew, Access = FileAccess.Write };
            if (!OperatingSystem.IsWindows())
            {
                options.UnixCreateMode = UnixFileMode.UserRead | UnixFileMode.UserWrite;
            }

            await using (var stream = new FileStream(unfinished, options))
            {
                await stream.WriteAsync(System.Text.Encoding.ASCII.GetBytes(text + "\n"), cancellation);
                stream.Flush(flushToDisk: true);
            }

            File.Move(unfinished, Path.Combine(folder, FileName), overwrite: true);
            return null;
        }
        catch (Exception exception) when (exception is IOException or UnauthorizedAccessException)
        {
            return exception.Message;
        }
    }

    private Guid MakeId()
    {
        Span<byte> bytes = stackalloc byte[16];
        random.GetBytes(bytes);
        return KeyIds.FromRandom(bytes);
    }
}
