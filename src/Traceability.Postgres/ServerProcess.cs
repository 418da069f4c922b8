using System.Diagnostics;
using System.Globalization;

namespace Traceability.Postgres;

/// <summary>
/// One run of the server, tied to this process by a pipe: a small shell holds the other end, and when the pipe ends,
/// by <see cref="Stop"/> or because this process died, it asks the server for a fast shutdown.
/// </summary>
internal sealed class ServerProcess : IDisposable
{
    /// <remarks>
    /// In its own session, so that Ctrl-C at a terminal reaches this process only. The signal is repeated because
    /// PostgreSQL ignores the first if it arrives before its handlers are set.
    /// </remarks>
    private const string Keeper =
        """
        exec 3<&0 </dev/null >>"$1" 2>&1
        shift
        trap '' HUP INT TERM
        "$@" 3<&- &
        server=$!
        ( cat <&3 >/dev/null; kill -INT "$server"; sleep 0.2; kill -INT "$server" ) 2>/dev/null &
        watcher=$!
        exec 3<&-
        wait "$server"
        status=$?
        kill -KILL "$watcher" 2>/dev/null
        exit "$status"
        """;

    private static readonly TimeSpan Poll = TimeSpan.FromMilliseconds(10);

    private readonly Process keeper;
    private readonly ClusterFolder cluster;

    private ServerProcess(Process keeper, ClusterFolder cluster)
    {
        this.keeper = keeper;
        this.cluster = cluster;
    }

    /// <summary>Gets the end of this run, however it comes.</summary>
    internal Task Ended => keeper.WaitForExitAsync();

    internal static ServerProcess Start(ClusterFolder cluster, ServerAccount account, PostgresBinaries binaries, IEnumerable<string> arguments)
    {
        File.WriteAllText(cluster.LogFile, "");
        Unix.SetMode(cluster.LogFile, UnixFileMode.UserRead | UnixFileMode.UserWrite);
        var server = account.Command([binaries.PathOf("postgres"), .. arguments]);
        var process = new Process { StartInfo = Unix.Plain(["setsid", "sh", "-c", Keeper, "sh", cluster.LogFile, .. server]) };
        process.Start();
        return new ServerProcess(process, cluster);
    }

    /// <summary>Waits until the server answers; gives its process id.</summary>
    internal async Task<int> ReadyAsync(TimeSpan timeout, CancellationToken cancellation)
    {
        var started = Stopwatch.StartNew();
        while (!keeper.HasExited)
        {
            if (ClusterProcesses.ReadyPostmasterOf(cluster.Path) is { } id)
            {
                return id;
            }

            if (started.Elapsed > timeout)
            {
                throw new EmbeddedPostgresException(string.Create(
                    CultureInfo.InvariantCulture,
                    $"PostgreSQL was not ready after {timeout.TotalSeconds:0} s.{LastMessages()}"));
            }

            await Task.Delay(Poll, cancellation).ConfigureAwait(false);
        }

        throw new EmbeddedPostgresException(string.Create(
            CultureInfo.InvariantCulture, $"PostgreSQL did not start (exit code {keeper.ExitCode}).{LastMessages()}"));
    }

    /// <summary>Asks for a fast shutdown, which the end of this process would also do.</summary>
    internal void Stop() => keeper.StandardInput.Close();

    public void Dispose() => keeper.Dispose();

    private string LastMessages()
    {
        const int linesMax = 12;
        var folder = Path.Combine(cluster.Path, "log");
        var own = Directory.Exists(folder)
            ? new DirectoryInfo(folder).EnumerateFiles().OrderByDescending(f => f.LastWriteTimeUtc).Take(1).Select(f => f.FullName)
            : [];
        var lines = own.Append(cluster.LogFile).Where(File.Exists).SelectMany(f => File.ReadLines(f).TakeLast(linesMax)).ToList();
        return lines.Count == 0 ? "" : " Its last messages:\n" + string.Join('\n', lines);
    }
}
