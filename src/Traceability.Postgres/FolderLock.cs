using System.Globalization;

namespace Traceability.Postgres;

/// <summary>
/// Keeps two owners off one data folder. The lock is the operating system's and ends with the process, however it ends;
/// the file's text says who holds it and where the socket folder is, so that the next owner can tidy it away.
/// </summary>
internal sealed class FolderLock : IDisposable
{
    internal const string FileName = "postgres.lock";

    private readonly FileStream file;

    private FolderLock(FileStream file, string? leftSocketFolder)
    {
        this.file = file;
        LeftSocketFolder = leftSocketFolder;
    }

    /// <summary>Gets the socket folder that the last owner did not remove, if any.</summary>
    internal string? LeftSocketFolder { get; }

    internal static FolderLock Take(string dataFolder)
    {
        var path = Path.Combine(dataFolder, FileName);
        FileStream stream;
        try
        {
            stream = new FileStream(path, new FileStreamOptions
            {
                Mode = FileMode.OpenOrCreate,
                Access = FileAccess.ReadWrite,
                Share = FileShare.None,
            });
        }
        catch (IOException e) when (File.Exists(path))
        {
            throw new EmbeddedPostgresException(
                $"The data folder {dataFolder} is in use by process {HolderOf(path)}. One data folder has one owner: "
                + "stop the other service, or name another data folder.",
                e);
        }

        Unix.SetMode(path, UnixFileMode.UserRead | UnixFileMode.UserWrite);
        using var reader = new StreamReader(stream, leaveOpen: true);
        var left = reader.ReadToEnd().Split('\n').ElementAtOrDefault(1);
        var taken = new FolderLock(stream, string.IsNullOrEmpty(left) ? null : left);
        taken.Write(taken.LeftSocketFolder);
        return taken;
    }

    /// <summary>Notes where the socket is, or that it is gone.</summary>
    internal void Write(string? socketFolder)
    {
        file.SetLength(0);
        file.Write(System.Text.Encoding.UTF8.GetBytes(
            string.Create(CultureInfo.InvariantCulture, $"{Environment.ProcessId}\n{socketFolder}\n")));
        file.Flush();
    }

    public void Dispose() => file.Dispose();

    private static string HolderOf(string path)
    {
        using var shared = new FileStream(path, FileMode.Open, FileAccess.Read, FileShare.ReadWrite | FileShare.Delete);
        using var reader = new StreamReader(shared);
        return reader.ReadLine() is { Length: > 0 } holder ? holder : "(not known yet)";
    }
}
