using System.Globalization;

namespace Traceability.Postgres;

/// <summary>
/// Finds and ends what still runs on a cluster after its owner or its postmaster was killed. A process of PostgreSQL
/// has the data folder as its working folder, which is how ours is told from any other, whatever process ids came to be.
/// </summary>
internal static class ClusterProcesses
{
    private static readonly TimeSpan Poll = TimeSpan.FromMilliseconds(20);

    /// <summary>Lists the processes of PostgreSQL that run on the cluster.</summary>
    internal static IReadOnlyList<int> On(string cluster)
    {
        var found = new List<int>();
        foreach (var folder in Directory.EnumerateDirectories("/proc"))
        {
            if (int.TryParse(Path.GetFileName(folder), NumberStyles.None, CultureInfo.InvariantCulture, out var id)
                && RunsOn(folder, cluster))
            {
                found.Add(id);
            }
        }

        return found;
    }

    /// <summary>Reads the postmaster's process id from the cluster's lock file; null if there is none.</summary>
    internal static int? PostmasterOf(string cluster) =>
        int.TryParse(LockLine(cluster, 0), NumberStyles.None, CultureInfo.InvariantCulture, out var id) ? id : null;

    /// <summary>
    /// Gives the process id of a postmaster that has declared itself ready (the eighth line of its lock file) and runs:
    /// a killed one leaves its lock file as it was.
    /// </summary>
    internal static int? ReadyPostmasterOf(string cluster) =>
        string.Equals(LockLine(cluster, 7)?.Trim(), "ready", StringComparison.Ordinal)
        && PostmasterOf(cluster) is { } id && RunsOn(ProcessFolder(id), cluster)
            ? id
            : null;

    /// <summary>
    /// Ends everything that still runs on the cluster: a postmaster by fast shutdown, backends without a postmaster by
    /// their ordinary end, and at once what has not ended by the time given. Then removes a lock file whose process id
    /// now belongs to somebody else, which PostgreSQL could not tell from a running server.
    /// </summary>
    internal static async Task EndAsync(string cluster, TimeSpan timeout, Action<string> log, CancellationToken cancellation)
    {
        var waited = TimeSpan.Zero;
        var told = new HashSet<int>();
        var quit = false;
        while (On(cluster) is { Count: > 0 } running)
        {
            var postmaster = PostmasterOf(cluster) is { } id && running.Contains(id) ? id : (int?)null;
            IReadOnlyList<int> targets = postmaster is null ? running : [postmaster.Value];
            if (!quit && waited > timeout)
            {
                quit = true;
                log($"PostgreSQL on {cluster} did not end in time and is stopped at once; it will recover at its next start.");
                Send(targets, Unix.SignalQuit);
            }
            else if (waited > timeout + timeout)
            {
                throw new EmbeddedPostgresException(
                    $"PostgreSQL still runs on {cluster} (processes {string.Join(", ", running)}) and does not end.");
            }
            else if (targets.Where(told.Add).ToList() is { Count: > 0 } untold)
            {
                log(postmaster is null
                    ? $"Waiting for processes of a killed PostgreSQL on {cluster}: {string.Join(", ", untold)}."
                    : $"Waiting for the PostgreSQL of an earlier owner on {cluster} to shut down.");
                Send(untold, postmaster is null ? Unix.SignalTerminate : Unix.SignalInterrupt);
            }

            await Task.Delay(Poll, cancellation).ConfigureAwait(false);
            waited += Poll;
        }

        // Nothing runs on the cluster, so a lock file names a process that is dead or another's.
        if (PostmasterOf(cluster) is { } left && Directory.Exists(ProcessFolder(left)))
        {
            File.Delete(LockPath(cluster));
        }
    }

    private static void Send(IEnumerable<int> processes, int signal)
    {
        foreach (var id in processes)
        {
            Unix.Signal(id, signal);
        }
    }

    private static bool RunsOn(string processFolder, string cluster)
    {
        try
        {
            var workingFolder = new FileInfo(Path.Combine(processFolder, "cwd")).LinkTarget;
            return string.Equals(workingFolder, cluster, StringComparison.Ordinal)
                && string.Equals(File.ReadAllText(Path.Combine(processFolder, "comm")).Trim(), "postgres", StringComparison.Ordinal);
        }
        catch (Exception e) when (e is IOException or UnauthorizedAccessException)
        {
            // Ended meanwhile, or another user's, who could not have opened our folder.
            return false;
        }
    }

    private static string? LockLine(string cluster, int index)
    {
        try
        {
            return File.ReadAllLines(LockPath(cluster)).ElementAtOrDefault(index);
        }
        catch (Exception e) when (e is FileNotFoundException or DirectoryNotFoundException)
        {
            return null;
        }
    }

    private static string LockPath(string cluster) => Path.Combine(cluster, "postmaster.pid");

    private static string ProcessFolder(int id) => Path.Combine("/proc", id.ToString(CultureInfo.InvariantCulture));
}
