using System.Diagnostics;
using System.Globalization;
using System.Runtime.InteropServices;

namespace Traceability.Postgres;

/// <summary>The few calls to the operating system that the class library lacks.</summary>
internal static partial class Unix
{
    internal const int SignalInterrupt = 2;
    internal const int SignalQuit = 3;
    internal const int SignalTerminate = 15;

    /// <summary>Sends a signal; a process that has ended already is not an error.</summary>
    internal static void Signal(int processId, int signal)
    {
        const int noSuchProcess = 3;
        if (Kill(processId, signal) != 0 && Marshal.GetLastPInvokeError() is var error && error != noSuchProcess)
        {
            throw new EmbeddedPostgresException(string.Create(
                CultureInfo.InvariantCulture,
                $"Signal {signal} could not be sent to process {processId}: {Marshal.GetPInvokeErrorMessage(error)}."));
        }
    }

    /// <summary>Sets the permissions of a file or folder.</summary>
    internal static void SetMode(string path, UnixFileMode mode)
    {
        if (OperatingSystem.IsWindows())
        {
            throw new PlatformNotSupportedException("The private PostgreSQL server needs Linux.");
        }

        File.SetUnixFileMode(path, mode);
    }

    /// <summary>Gives a file or folder to a user and group.</summary>
    internal static void GiveTo(string path, int user, int group)
    {
        if (ChangeOwner(path, (uint)user, (uint)group) != 0)
        {
            var reason = Marshal.GetPInvokeErrorMessage(Marshal.GetLastPInvokeError());
            throw new EmbeddedPostgresException(string.Create(
                CultureInfo.InvariantCulture, $"{path} could not be given to user {user}: {reason}."));
        }
    }

    /// <summary>Runs a program to its end, without input, from the root folder, in the plain locale.</summary>
    internal static async Task<ProgramResult> RunAsync(IReadOnlyList<string> command, CancellationToken cancellation)
    {
        using var process = new Process { StartInfo = Plain(command) };
        process.StartInfo.RedirectStandardOutput = true;
        process.StartInfo.RedirectStandardError = true;
        process.Start();
        process.StandardInput.Close();
        var output = process.StandardOutput.ReadToEndAsync(cancellation);
        var error = process.StandardError.ReadToEndAsync(cancellation);
        try
        {
            await process.WaitForExitAsync(cancellation).ConfigureAwait(false);
            return new ProgramResult(process.ExitCode, await output.ConfigureAwait(false), await error.ConfigureAwait(false));
        }
        catch (OperationCanceledException)
        {
            process.Kill(entireProcessTree: true);
            throw;
        }
    }

    /// <summary>
    /// A start description without what would change PostgreSQL's behaviour: its variables, the locale and a working
    /// folder that the server's user may not enter.
    /// </summary>
    internal static ProcessStartInfo Plain(IReadOnlyList<string> command)
    {
        var start = new ProcessStartInfo(command[0], command.Skip(1))
        {
            UseShellExecute = false,
            RedirectStandardInput = true,
            WorkingDirectory = "/",
        };
        foreach (var name in start.Environment.Keys.Where(k => k.StartsWith("PG", StringComparison.Ordinal)).ToList())
        {
            start.Environment.Remove(name);
        }

        start.Environment["LC_ALL"] = "C";
        return start;
    }

    [LibraryImport("libc", EntryPoint = "kill", SetLastError = true)]
    [DefaultDllImportSearchPaths(DllImportSearchPath.SafeDirectories)]
    private static partial int Kill(int processId, int signal);

    [LibraryImport("libc", EntryPoint = "chown", SetLastError = true, StringMarshalling = StringMarshalling.Utf8)]
    [DefaultDllImportSearchPaths(DllImportSearchPath.SafeDirectories)]
    private static partial int ChangeOwner(string path, uint user, uint group);
}

/// <summary>How a program ended.</summary>
internal readonly record struct ProgramResult(int ExitCode, string Output, string Error);
