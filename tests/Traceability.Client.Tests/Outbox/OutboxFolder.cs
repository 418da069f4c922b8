using Traceability.Client.Outbox;

namespace Traceability.Client.Tests.Outbox;

/// <summary>A folder for one test's outbox.</summary>
internal sealed class OutboxFolder : IDisposable
{
    public string Path { get; } = Directory.CreateTempSubdirectory("traceability-outbox-").FullName;

    public string Database => System.IO.Path.Combine(Path, "outbox.db");

    public string Log => Database + "-wal";

    public Task<FactOutbox> OpenAsync(TestClock? clock = null, Func<OutboxOptions, OutboxOptions>? change = null)
    {
        var options = new OutboxOptions { Folder = Path };
        return FactOutbox.OpenAsync(change?.Invoke(options) ?? options, clock, clock);
    }

    /// <summary>The files as a crash leaves them at this moment, in another folder.</summary>
    public OutboxFolder Copy()
    {
        var copy = new OutboxFolder();
        foreach (var file in Directory.GetFiles(Path).Where(f => !f.EndsWith("outbox.lock", StringComparison.Ordinal)))
        {
            using var from = new FileStream(file, FileMode.Open, FileAccess.Read, FileShare.ReadWrite | FileShare.Delete);
            using var to = File.Create(System.IO.Path.Combine(copy.Path, System.IO.Path.GetFileName(file)));
            from.CopyTo(to);
        }

        return copy;
    }

    public void Dispose() => Directory.Delete(Path, recursive: true);
}
