using System.Globalization;

namespace Traceability.Postgres;

/// <summary>
/// Keeps two owners off one data folder. The lock is the operating system's and ends with the process, however it ends;
/// a file beside it says who holds it and where the socket folder is, so that the next owner can tidy it away.
/// </summary>
internal sealed class FolderLock : IDisposable
{
    internal const string FileName = "postgres.lock";

    internal const string OwnerFileName = "postgres.owner";

    private readonly FileStream held;
    private readonly string ownerFile;

    private FolderLock(FileStream held, string ownerFile)
    {
        this.held = held;
        this.ownerFile = ownerFile;
        LeftSocketFolder = LineOf(ownerFile, 1);
        Write(LeftSocketFolder);
    }

    /// <summary>Gets the socket folder that the last owner did not remove, if any.</summary>
    internal string? LeftSocketFolder { get; }

    internal static FolderLock Take(string dataFolder)
    {
        var path = Path.Combine(dataFolder, FileName);
        var note = Path.Combine(dataFolder, OwnerFileName);
        try
        {
            return new FolderLock(new FileStream(path, FileMode.OpenOrCreate, FileAccess.ReadWrite, FileShare.None), note);
        }
        catch (IOException e) when (File.Exists(path))
        {
            throw new EmbeddedPostgresException(
                $"The data folder {dataFolder} is in use by process {LineOf(note, 0) ?? "(not known yet)"}. One data folder has one owner: "
                + "stop the other service, or name another data folder.",
                e);
        }
        catch (UnauthorizedAccessException e)
        {
            throw new EmbeddedPostgresException($"The data folder {dataFolder} can't be written to by this user: {e.Message}", e);
        }
    }

    /// <summary>Notes where the socket is, or that it is gone.</summary>
    internal void Write(string? socketFolder) => File.WriteAllText(
        ownerFile, string.Create(CultureInfo.InvariantCulture, $"{Environment.ProcessId}\n{socketFolder}\n"));

    public void Dispose() => held.Dispose();

    private static string? LineOf(string file, int index) =>
        File.Exists(file) && File.ReadAllLines(file).ElementAtOrDefault(index) is { Length: > 0 } line ? line : null;
}
