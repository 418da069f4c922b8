using System.Diagnostics;
using System.Globalization;
using Traceability.Testing;

namespace Traceability.Acceptance.Faults;

/// <summary>A small file system in memory, which can be filled up.</summary>
internal sealed class SmallDisk : IAsyncDisposable
{
    private SmallDisk(string path) => Path = path;

    /// <summary>Where it is mounted.</summary>
    public string Path { get; }

    /// <summary>Bytes that are free.</summary>
    public long Free => new DriveInfo(Path).AvailableFreeSpace;

    private string Ballast => System.IO.Path.Combine(Path, "lost+found");

    /// <summary>Mounts one.</summary>
    public static async Task<SmallDisk> MountAsync(int megabytes)
    {
        var path = TestFolder.Make("traceability-disk-");
        if (await RunAsync("mount", "-t", "tmpfs", "-o", string.Create(CultureInfo.InvariantCulture, $"size={megabytes}m,mode=711"), "tmpfs", path) == 0)
        {
            return new(path);
        }

        Directory.Delete(path);
        throw new InvalidOperationException("A small file system can't be mounted.");
    }

    /// <summary>Fills it up, but for so many bytes.</summary>
    public void Fill(long leave)
    {
        Directory.CreateDirectory(Ballast);
        using var file = new FileStream(System.IO.Path.Combine(Ballast, "ballast"), FileMode.Append);
        var block = new byte[4096];
        try
        {
            while (Free > leave)
            {
                file.Write(block);
                file.Flush();
            }
        }
        catch (IOException)
        {
            // It is full now.
        }
    }

    /// <summary>Takes away what it was filled with.</summary>
    public void Empty() => File.Delete(System.IO.Path.Combine(Ballast, "ballast"));

    /// <inheritdoc />
    public async ValueTask DisposeAsync()
    {
        await RunAsync("umount", "-l", Path);
        Directory.Delete(Path);
    }

    private static async Task<int> RunAsync(string program, params string[] arguments)
    {
        try
        {
            using var process = Process.Start(new ProcessStartInfo(program, arguments) { UseShellExecute = false, RedirectStandardError = true })!;
            await process.WaitForExitAsync();
            return process.ExitCode;
        }
        catch (System.ComponentModel.Win32Exception)
        {
            return -1;
        }
    }
}

/// <summary>A theory that needs a small file system; left out, with the reason, where this machine does not let one be mounted.</summary>
public sealed class SmallDiskTheoryAttribute : TheoryAttribute
{
    /// <summary>Whether one can be mounted here.</summary>
    internal static readonly Lazy<bool> CanMount = new(() => Task.Run(CanMountAsync).GetAwaiter().GetResult());

    /// <summary>Looks whether one can be.</summary>
    public SmallDiskTheoryAttribute() =>
        Skip = CanMount.Value ? null : "No file system can be mounted here (it needs root): the test with files that may not grow stands for it.";

    private static async Task<bool> CanMountAsync()
    {
        try
        {
            await using var disk = await SmallDisk.MountAsync(1);
            return true;
        }
        catch (InvalidOperationException)
        {
            return false;
        }
    }
}

/// <summary>A test that stands for those that need a small file system: in the short form only where none can be mounted.</summary>
public sealed class NoSmallDiskFactAttribute : FactAttribute
{
    /// <summary>Looks whether it is needed.</summary>
    public NoSmallDiskFactAttribute() =>
        Skip = SmallDiskTheoryAttribute.CanMount.Value && !TestLength.IsLong ? "Small file systems can be mounted here, and the tests with them say more; in the long form both run." : null;
}

/// <summary>A folder that is gone at the end.</summary>
internal sealed class Folder : IAsyncDisposable
{
    /// <summary>Where it is.</summary>
    public string Path { get; } = TestFolder.Make("traceability-beside-");

    /// <summary>Moves a folder to another file system, with owner and permissions, and leaves a link to it.</summary>
    public static async Task MoveAsync(string from, string to)
    {
        using (var copy = Process.Start("cp", ["-a", from, to]))
        {
            await copy.WaitForExitAsync();
        }

        Directory.Delete(from, recursive: true);
        Directory.CreateSymbolicLink(from, to);
    }

    /// <inheritdoc />
    public ValueTask DisposeAsync()
    {
        Directory.Delete(Path, recursive: true);
        return ValueTask.CompletedTask;
    }
}
