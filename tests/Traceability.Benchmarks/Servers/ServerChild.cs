using System.Diagnostics;
using System.Net;
using System.Net.Sockets;

namespace Traceability.Benchmarks.Servers;

/// <summary>A server in a child process of this program; ends with <see cref="Dispose"/>.</summary>
internal sealed class ServerChild : IDisposable
{
    private readonly Process _process;

    private ServerChild(Process process, IPEndPoint at)
    {
        _process = process;
        At = at;
    }

    /// <summary>Where it listens, on loopback.</summary>
    public IPEndPoint At { get; }

    public int ProcessId => _process.Id;

    /// <summary>Memory in use, in MB of 2^20 bytes, as the kernel counts it.</summary>
    public double ResidentMegabytes()
    {
        var line = File.ReadLines($"/proc/{_process.Id.ToString(CultureInfo.InvariantCulture)}/status").First(l => l.StartsWith("VmRSS:", StringComparison.Ordinal));
        return double.Parse(line.Split(' ', StringSplitOptions.RemoveEmptyEntries)[1], CultureInfo.InvariantCulture) / 1024;
    }

    /// <summary>Processor time used so far.</summary>
    public TimeSpan ProcessorTime()
    {
        _process.Refresh();
        return _process.TotalProcessorTime;
    }

    /// <summary>Starts this program again as a server, and waits until it listens.</summary>
    public static async Task<ServerChild> StartAsync(Func<string, string[]> arguments, string log)
    {
        var at = new IPEndPoint(IPAddress.Loopback, FreePort());
        var start = new ProcessStartInfo(Environment.ProcessPath!) { UseShellExecute = false, RedirectStandardInput = true, RedirectStandardOutput = true, RedirectStandardError = true };

        // As the service is started by deploy/run; the server that it is compared with has the same.
        start.Environment["DOTNET_GCgen0size"] = "2000000";
        if (Path.GetFileNameWithoutExtension(Environment.ProcessPath) == "dotnet")
        {
            start.ArgumentList.Add(typeof(ServerChild).Assembly.Location);
        }

        foreach (var argument in arguments($"http://{at}"))
        {
            start.ArgumentList.Add(argument);
        }

        var process = Process.Start(start)!;
        var output = TextWriter.Synchronized(new StreamWriter(log, append: true) { AutoFlush = true });
        process.OutputDataReceived += (_, e) => output.WriteLine(e.Data);
        process.ErrorDataReceived += (_, e) => output.WriteLine(e.Data);
        process.BeginOutputReadLine();
        process.BeginErrorReadLine();
        for (var tries = 0; tries < 600; tries++)
        {
            if (process.HasExited)
            {
                throw new InvalidOperationException($"The server ended at its start; see {log}.");
            }

            using var socket = new Socket(SocketType.Stream, ProtocolType.Tcp);
            try
            {
                await socket.ConnectAsync(at);
                return new(process, at);
            }
            catch (SocketException)
            {
                await Task.Delay(100);
            }
        }

        process.Kill();
        throw new InvalidOperationException($"The server does not listen; see {log}.");
    }

    public void Dispose()
    {
        if (!_process.HasExited)
        {
            _process.Kill();
            _process.WaitForExit();
        }

        _process.Dispose();
    }

    private static int FreePort()
    {
        using var listener = new TcpListener(IPAddress.Loopback, 0);
        listener.Start();
        return ((IPEndPoint)listener.LocalEndpoint).Port;
    }
}
