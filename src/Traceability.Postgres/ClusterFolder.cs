using System.Globalization;

namespace Traceability.Postgres;

/// <summary>The cluster's place in the data folder: what may be there, and how it is made.</summary>
internal sealed class ClusterFolder
{
    private static readonly string[] OurNames =
        ["cluster", "cluster.new", "socket", FolderLock.FileName, FolderLock.OwnerFileName, "postgres.log", "administrator-key", "lost+found"];

    internal ClusterFolder(string dataFolder)
    {
        DataFolder = dataFolder;
        Path = System.IO.Path.Combine(dataFolder, "cluster");
    }

    internal string DataFolder { get; }

    /// <summary>Gets PostgreSQL's own data folder.</summary>
    internal string Path { get; }

    /// <summary>Gets the file that the server's messages go to until it keeps its own log.</summary>
    internal string LogFile => System.IO.Path.Combine(DataFolder, "postgres.log");

    private string Unfinished => Path + ".new";

    /// <summary>Gets the major version that made the cluster; null if there is none yet.</summary>
    internal int? MajorVersion
    {
        get
        {
            var file = System.IO.Path.Combine(Path, "PG_VERSION");
            return !File.Exists(file)
                ? null
                : int.TryParse(File.ReadAllText(file).Trim(), NumberStyles.None, CultureInfo.InvariantCulture, out var version)
                    ? version
                    : throw new EmbeddedPostgresException($"{file} does not hold a version: the data folder is damaged.");
        }
    }

    /// <summary>Makes the data folder if need be; links on the way are followed, as the server itself does.</summary>
    internal static ClusterFolder Open(string dataFolder)
    {
        var full = System.IO.Path.GetFullPath(dataFolder);
        if (!Directory.Exists(full))
        {
            // Others may pass through but not list: the server's user must reach the cluster when this process is root.
            Directory.CreateDirectory(full);
            Unix.SetMode(full, UnixFileMode.UserRead | UnixFileMode.UserWrite | UnixFileMode.UserExecute
                | UnixFileMode.GroupExecute | UnixFileMode.OtherExecute);
        }

        return new ClusterFolder(WithoutLinks(full));
    }

    /// <summary>Refuses a folder that holds something else than this launcher's own things.</summary>
    internal void RequireOurs()
    {
        if (MajorVersion is not null)
        {
            return;
        }

        if (File.Exists(System.IO.Path.Combine(DataFolder, "PG_VERSION")))
        {
            throw new EmbeddedPostgresException(
                $"{DataFolder} is itself a PostgreSQL cluster, and not one of this service (which keeps its own in a subfolder). Name another data folder, or run that server and set ConnectionStrings__Traceability.");
        }

        var foreign = Directory.EnumerateFileSystemEntries(DataFolder).Select(p => System.IO.Path.GetFileName(p)!)
            .Where(name => !OurNames.Contains(name, StringComparer.Ordinal)).Order(StringComparer.Ordinal).FirstOrDefault();
        if (foreign is not null || (Directory.Exists(Path) && Directory.EnumerateFileSystemEntries(Path).Any()))
        {
            throw new EmbeddedPostgresException(
                $"The folder {DataFolder} is not empty and holds no cluster of this service (there is \"{foreign ?? "cluster"}\" in it). Name an empty or a new data folder.");
        }
    }

    /// <summary>Refuses a cluster of another major version.</summary>
    internal void RequireVersion(PostgresBinaries binaries)
    {
        if (MajorVersion is { } made && made != binaries.MajorVersion)
        {
            throw new EmbeddedPostgresException(string.Create(
                CultureInfo.InvariantCulture,
                $"The data folder {DataFolder} was made by PostgreSQL {made}, and PostgreSQL {binaries.MajorVersion} is installed in {binaries.Folder}. Nothing was changed. Install PostgreSQL {made} beside it (Debian: apt-get install postgresql-{made}) and start again; to move to {binaries.MajorVersion}, use pg_upgrade, or pg_dump from {made} and pg_restore into a new data folder."));
        }
    }

    /// <summary>Makes the cluster unless it is there. One that a crash left half made is made anew.</summary>
    internal async Task MakeAsync(
        PostgresBinaries binaries, ServerAccount account, PostgresDurability durability, CancellationToken cancellation)
    {
        if (MajorVersion is not null)
        {
            return;
        }

        if (Directory.Exists(Unfinished))
        {
            Directory.Delete(Unfinished, recursive: true);
        }

        account.MakePrivateFolder(Unfinished);
        string[] sync = durability == PostgresDurability.TestOnly ? ["--no-sync"] : [];
        var result = await Unix.RunAsync(
            account.Command(
            [
                binaries.PathOf("initdb"), "--pgdata", Unfinished, "--data-checksums", "--username", ServerSettings.Superuser,
                "--auth-local", "trust", "--auth-host", "reject", "--encoding", "UTF8",
                "--locale", "C", "--lc-ctype", "C.UTF-8", .. sync,
            ]),
            cancellation).ConfigureAwait(false);
        if (result.ExitCode != 0)
        {
            throw new EmbeddedPostgresException($"initdb failed in {Unfinished}: {result.Error.Trim()}");
        }

        if (Directory.Exists(Path))
        {
            Directory.Delete(Path);
        }

        // The name appears only when the cluster is whole.
        Directory.Move(Unfinished, Path);
    }

    private static string WithoutLinks(string path)
    {
        var parent = System.IO.Path.GetDirectoryName(path);
        if (parent is null)
        {
            return path;
        }

        var target = new DirectoryInfo(path).ResolveLinkTarget(returnFinalTarget: true)?.FullName;
        return target is null
            ? System.IO.Path.Combine(WithoutLinks(parent), System.IO.Path.GetFileName(path))
            : WithoutLinks(target);
    }
}
