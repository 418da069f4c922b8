using System.Globalization;

namespace Traceability.Client.Outbox;

/// <summary>The terminal's steady clock: it can't be set, and counts from the start of the machine.</summary>
public interface ITerminalUptime
{
    /// <summary>Gets what names this run of the machine: readings of different runs can't be compared.</summary>
    string Run { get; }

    /// <summary>How long the machine has been up, time asleep included where the system tells.</summary>
    TimeSpan Read();
}

/// <summary>The system's own: on Linux since the machine's start, so that it outlives this process; elsewhere since this process's start.</summary>
internal sealed class SystemUptime : ITerminalUptime
{
    private const string RunFile = "/proc/sys/kernel/random/boot_id";
    private const string UptimeFile = "/proc/uptime";

    private readonly TimeProvider time;
    private readonly long began;
    private readonly bool isLinux;

    public SystemUptime(TimeProvider time)
    {
        this.time = time;
        began = time.GetTimestamp();
        isLinux = OperatingSystem.IsLinux() && File.Exists(RunFile) && File.Exists(UptimeFile);
        Run = isLinux ? File.ReadAllText(RunFile).Trim() : FactIds.Next().ToString();
    }

    /// <inheritdoc />
    public string Run { get; }

    /// <inheritdoc />
    public TimeSpan Read() => isLinux
        ? TimeSpan.FromSeconds(double.Parse(File.ReadAllText(UptimeFile).Split(' ')[0], CultureInfo.InvariantCulture))
        : time.GetElapsedTime(began);
}
