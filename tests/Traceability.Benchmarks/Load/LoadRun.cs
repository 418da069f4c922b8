using System.Diagnostics;
using System.Net;

namespace Traceability.Benchmarks.Load;

/// <summary>What a run of posts took.</summary>
/// <param name="Posts">How many were answered as expected.</param>
/// <param name="Elapsed">From the first to the last.</param>
/// <param name="Latencies">Of each, in milliseconds, ascending.</param>
internal sealed record LoadResult(int Posts, TimeSpan Elapsed, double[] Latencies)
{
    public double PerSecond => Posts / Elapsed.TotalSeconds;

    public double Median => At(0.5);

    public double P99 => At(0.99);

    private double At(double share) => Latencies[(int)Math.Min(Latencies.Length - 1, Math.Ceiling(share * Latencies.Length) - 1)];
}

/// <summary>Posts on many connections at once, each sending its next request when the last is answered.</summary>
internal static class LoadRun
{
    /// <summary>Runs; any other answer than 201 ends it with an error.</summary>
    /// <param name="at">The server.</param>
    /// <param name="requests">For each connection what it sends, in order.</param>
    /// <param name="perSecond">Holds all connections together to this rate; null: as fast as it goes.</param>
    public static async Task<LoadResult> RunAsync(IPEndPoint at, byte[][][] requests, double? perSecond = null)
    {
        var connections = await Task.WhenAll(requests.Select(_ => RawConnection.OpenAsync(at)));
        var latencies = requests.Select(r => new double[r.Length]).ToArray();
        var started = Stopwatch.GetTimestamp();
        await Task.WhenAll(connections.Select((c, i) => Task.Run(() => SendAsync(c, requests[i], latencies[i], perSecond / requests.Length, started))));
        var elapsed = Stopwatch.GetElapsedTime(started);
        foreach (var connection in connections)
        {
            connection.Dispose();
        }

        var all = latencies.SelectMany(l => l).Order().ToArray();
        return new(all.Length, elapsed, all);
    }

    private static async Task SendAsync(RawConnection connection, byte[][] requests, double[] latencies, double? perSecond, long started)
    {
        for (var i = 0; i < requests.Length; i++)
        {
            if (perSecond is { } rate && (i / rate) - Stopwatch.GetElapsedTime(started).TotalSeconds is > 0 and var wait)
            {
                await Task.Delay(TimeSpan.FromSeconds(wait));
            }

            var sent = Stopwatch.GetTimestamp();
            var status = await connection.SendAsync(requests[i]);
            latencies[i] = Stopwatch.GetElapsedTime(sent).TotalMilliseconds;
            if (status != 201)
            {
                throw new InvalidOperationException($"A post was answered {connection.LastAnswer}");
            }
        }
    }
}
