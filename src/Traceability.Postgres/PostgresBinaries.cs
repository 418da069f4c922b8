using System.Diagnostics;
using System.Globalization;

namespace Traceability.Postgres;

/// <summary>The programs of one installed PostgreSQL version.</summary>
/// <param name="Folder">The folder with <c>initdb</c> and <c>postgres</c>.</param>
/// <param name="MajorVersion">The major version, such as 15.</param>
public sealed record PostgresBinaries(string Folder, int MajorVersion)
{
    /// <summary>Name of the environment variable that names the folder when PostgreSQL is installed elsewhere.</summary>
    public const string FolderVariable = "TRACEABILITY_POSTGRES_BIN";

    /// <summary>The oldest version that the service is built for.</summary>
    public const int MajorVersionMin = 15;

    private const string DistributionFolder = "/usr/lib/postgresql";

    /// <summary>
    /// Finds PostgreSQL: the newest under <c>/usr/lib/postgresql/*/bin</c>, else on <c>PATH</c>, else in the folder
    /// that <see cref="FolderVariable"/> names.
    /// </summary>
    /// <param name="preferredMajorVersion">Taken instead of the newest if it is installed: the version of an existing cluster.</param>
    /// <exception cref="EmbeddedPostgresException">Nothing usable is installed; the message says what to install.</exception>
    public static PostgresBinaries Find(int? preferredMajorVersion = null)
    {
        var installed = Candidates().Where(Complete).Select(folder => new PostgresBinaries(folder, VersionOf(folder))).ToList();
        var usable = installed.Where(b => b.MajorVersion >= MajorVersionMin).ToList();
        if (usable.Find(b => b.MajorVersion == preferredMajorVersion) is { } preferred)
        {
            return preferred;
        }

        if (usable.Count > 0)
        {
            return usable[0];
        }

        throw new EmbeddedPostgresException(installed.Count == 0
            ? $"No PostgreSQL is installed: looked under {DistributionFolder}/*/bin, on PATH and in {FolderVariable}. "
              + "Install it (Debian: apt-get install postgresql), or set ConnectionStrings__Traceability to use another server."
            : string.Create(
                CultureInfo.InvariantCulture,
                $"PostgreSQL {installed[0].MajorVersion} in {installed[0].Folder} is too old: version {MajorVersionMin} or newer is needed."));
    }

    /// <summary>Takes the programs in one folder.</summary>
    /// <exception cref="EmbeddedPostgresException">They are not there, or too old.</exception>
    public static PostgresBinaries In(string folder)
    {
        ArgumentException.ThrowIfNullOrWhiteSpace(folder);
        if (!Complete(folder))
        {
            throw new EmbeddedPostgresException($"There is no PostgreSQL in {folder}: initdb and postgres are expected there.");
        }

        var version = VersionOf(folder);
        return version >= MajorVersionMin
            ? new PostgresBinaries(folder, version)
            : throw new EmbeddedPostgresException(string.Create(
                CultureInfo.InvariantCulture,
                $"PostgreSQL {version} in {folder} is too old: version {MajorVersionMin} or newer is needed."));
    }

    internal string PathOf(string program) => Path.Combine(Folder, program);

    private static IEnumerable<string> Candidates()
    {
        var distribution = Directory.Exists(DistributionFolder)
            ? Directory.GetDirectories(DistributionFolder)
                .Where(d => int.TryParse(Path.GetFileName(d), NumberStyles.None, CultureInfo.InvariantCulture, out _))
                .OrderByDescending(d => int.Parse(Path.GetFileName(d), CultureInfo.InvariantCulture))
                .Select(d => Path.Combine(d, "bin"))
            : [];
        var path = (Environment.GetEnvironmentVariable("PATH") ?? "")
            .Split(Path.PathSeparator, StringSplitOptions.RemoveEmptyEntries);
        var named = Environment.GetEnvironmentVariable(FolderVariable);

        return [.. distribution, .. path, .. string.IsNullOrEmpty(named) ? [] : new[] { named }];
    }

    private static bool Complete(string folder) =>
        File.Exists(Path.Combine(folder, "initdb")) && File.Exists(Path.Combine(folder, "postgres"));

    private static int VersionOf(string folder)
    {
        using var process = Process.Start(new ProcessStartInfo(Path.Combine(folder, "postgres"), "--version")
        {
            RedirectStandardOutput = true,
            UseShellExecute = false,
        }) ?? throw new EmbeddedPostgresException($"postgres in {folder} does not start.");
        var answer = process.StandardOutput.ReadToEnd();
        process.WaitForExit();

        // "postgres (PostgreSQL) 15.18 (Debian 15.18-0+deb12u1)"
        var number = answer.Split(' ', StringSplitOptions.RemoveEmptyEntries).ElementAtOrDefault(2) ?? "";
        var digits = new string([.. number.TakeWhile(char.IsAsciiDigit)]);
        return int.TryParse(digits, NumberStyles.None, CultureInfo.InvariantCulture, out var major)
            ? major
            : throw new EmbeddedPostgresException($"postgres in {folder} does not tell its version: \"{answer.Trim()}\".");
    }
}
