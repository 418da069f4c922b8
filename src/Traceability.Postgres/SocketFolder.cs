using System.Text;

namespace Traceability.Postgres;

/// <summary>The folder of the server's unix socket: short enough for the kernel, and closed to other users.</summary>
internal static class SocketFolder
{
    /// <summary>Linux keeps the path of a unix socket in 108 bytes, the last of them zero (unix(7)).</summary>
    internal const int PathBytesMax = 107;

    internal const string SocketName = ".s.PGSQL.5432";

    private const string TemporaryPrefix = "traceability-socket-";

    /// <summary>Makes the folder: in the data folder if the path is short enough, else in a temporary one.</summary>
    internal static string Make(string dataFolder, ServerAccount account)
    {
        var beside = Path.Combine(dataFolder, "socket");
        if (Fits(beside))
        {
            account.MakePrivateFolder(beside);
            return beside;
        }

        var made = Directory.CreateTempSubdirectory(TemporaryPrefix).FullName;
        if (!Fits(made))
        {
            Directory.Delete(made);
            throw new EmbeddedPostgresException(
                $"No folder for the database's unix socket is short enough: neither {beside} nor {made}. Set TMPDIR to a shorter path, such as /tmp.");
        }

        account.TakePrivate(made);
        return made;
    }

    /// <summary>Removes a folder that an earlier owner left; only one that this class can have made.</summary>
    internal static void Remove(string? folder, string dataFolder)
    {
        if (folder is null || !Directory.Exists(folder))
        {
            return;
        }

        var ours = string.Equals(folder, Path.Combine(dataFolder, "socket"), StringComparison.Ordinal)
            || Path.GetFileName(folder).StartsWith(TemporaryPrefix, StringComparison.Ordinal);
        if (ours)
        {
            Directory.Delete(folder, recursive: true);
        }
    }

    private static bool Fits(string folder) =>
        Encoding.UTF8.GetByteCount(Path.Combine(folder, SocketName)) <= PathBytesMax;
}
