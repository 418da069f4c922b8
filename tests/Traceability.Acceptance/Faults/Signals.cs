using System.Diagnostics;
using System.Globalization;

namespace Traceability.Acceptance.Faults;

/// <summary>Signals to processes that a test has started, by their ids.</summary>
internal static class Signals
{
    /// <summary>Sends one signal to all of them at once; one that has ended already is no error.</summary>
    public static async Task SendAsync(string signal, params IEnumerable<int> processes)
    {
        string[] ids = [.. processes.Where(p => p > 1).Select(p => p.ToString(CultureInfo.InvariantCulture))];
        if (ids.Length == 0)
        {
            return;
        }

        using var kill = Process.Start(new ProcessStartInfo("kill", ["-" + signal, .. ids]) { UseShellExecute = false, RedirectStandardError = true })!;
        await kill.WaitForExitAsync();
    }
}

/// <summary>The processes of a PostgreSQL server, told by their working folder, which is the cluster's.</summary>
internal static class PostgresProcesses
{
    /// <summary>The server and all its children.</summary>
    public static IReadOnlyList<int> On(string cluster)
    {
        List<int> found = [];
        foreach (var folder in Directory.EnumerateDirectories("/proc"))
        {
            if (int.TryParse(Path.GetFileName(folder), NumberStyles.None, CultureInfo.InvariantCulture, out var id) && IsOn(folder, cluster))
            {
                found.Add(id);
            }
        }

        return found;
    }

    /// <summary>The server itself, as its lock file names it; 0 for none.</summary>
    public static int PostmasterOf(string cluster)
    {
        try
        {
            return int.TryParse(File.ReadLines(Path.Combine(cluster, "postmaster.pid")).First(), NumberStyles.None, CultureInfo.InvariantCulture, out var id) ? id : 0;
        }
        catch (Exception e) when (e is IOException or InvalidOperationException)
        {
            return 0;
        }
    }

    private static bool IsOn(string processFolder, string cluster)
    {
        try
        {
            return string.Equals(new FileInfo(Path.Combine(processFolder, "cwd")).LinkTarget, cluster, StringComparison.Ordinal)
                && string.Equals(File.ReadAllText(Path.Combine(processFolder, "comm")).Trim(), "postgres", StringComparison.Ordinal);
        }
        catch (Exception e) when (e is IOException or UnauthorizedAccessException)
        {
            // Ended meanwhile.
            return false;
        }
    }
}
