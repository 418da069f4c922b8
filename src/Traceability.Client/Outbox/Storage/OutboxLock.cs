using System.Globalization;

namespace Traceability.Client.Outbox.Storage;

/// <summary>Holds the outbox for this process: the system lets go of it when the process ends, however it ends.</summary>
internal sealed class OutboxLock : IDisposable
{
    private readonly FileStream held;

    private OutboxLock(FileStream held) => this.held = held;

    public static OutboxLock Take(string folder)
    {
        var owner = Path.Combine(folder, "outbox.owner");
        try
        {
            var taken = new OutboxLock(new(Path.Combine(folder, "outbox.lock"), FileMode.OpenOrCreate, FileAccess.ReadWrite, FileShare.None));
            File.WriteAllText(owner, Environment.ProcessId.ToString(CultureInfo.InvariantCulture));
            return taken;
        }
        catch (IOException e)
        {
            var who = File.Exists(owner) ? $"process {File.ReadAllText(owner).Trim()}" : "another process";
            throw new OutboxInUseException($"The outbox in {folder} is in use by {who}. One process at a time may use it: end that one, or give this one a folder of its own.", e);
        }
    }

    public void Dispose() => held.Dispose();
}
