using System.Diagnostics;
using System.Net;
using System.Text;
using Traceability.Benchmarks.Load;

namespace Traceability.Benchmarks.Soak;

/// <summary>Latencies of one period, in milliseconds, ascending.</summary>
internal sealed record SoakLatencies(double[] Ascending)
{
    public int Count => Ascending.Length;

    public double At(double share) => Count == 0 ? 0 : Ascending[(int)Math.Min(Count - 1, Math.Ceiling(share * Count) - 1)];
}

/// <summary>What was seen at the end of one period.</summary>
/// <param name="At">Since the load became steady.</param>
/// <param name="Writes">Posts of facts.</param>
/// <param name="Reads">Questions.</param>
/// <param name="Resident">Memory of the service, MB of 2^20 bytes.</param>
/// <param name="Heap">Its heap after the last collection, MB.</param>
/// <param name="Sessions">Its sessions at the database.</param>
/// <param name="Files">Its open files and sockets.</param>
/// <param name="Threads">Its threads.</param>
internal sealed record SoakPeriod(TimeSpan At, SoakLatencies Writes, SoakLatencies Reads, double Resident, double Heap, int Sessions, int Files, int Threads)
{
    public string Row() => string.Create(
        CultureInfo.InvariantCulture,
        $"| {At.TotalMinutes:0.0} | {Writes.Count} | {Writes.At(0.5):0.00} | {Writes.At(0.95):0.00} | {Writes.At(0.99):0.0} | {Writes.At(1):0} | {Reads.Count} | {Reads.At(0.5):0.00} | {Reads.At(0.99):0.0} | {Resident:0} | {Heap:0} | {Sessions} | {Files} | {Threads} |");
}

/// <summary>Gathers latencies from many connections. May be used from any thread.</summary>
internal sealed class SoakBook
{
    private readonly Lock _lock = new();
    private List<double> _writes = [];
    private List<double> _reads = [];
    private string? _latest;

    /// <summary>The serial number of a unit that was built not long ago; null before the first.</summary>
    public string? Latest => Volatile.Read(ref _latest);

    /// <summary>A unit is built.</summary>
    public void Built(string serial) => Volatile.Write(ref _latest, serial);

    /// <summary>Sends a request and notes how long its answer took; any other status ends the soak.</summary>
    public async Task TimeAsync(bool isWrite, RawConnection connection, byte[] request, HttpStatusCode expected)
    {
        var sent = Stopwatch.GetTimestamp();
        var status = await connection.SendAsync(request);
        var took = Stopwatch.GetElapsedTime(sent).TotalMilliseconds;
        if (status != (int)expected)
        {
            throw new InvalidOperationException($"A request was answered {connection.LastAnswer}");
        }

        lock (_lock)
        {
            (isWrite ? _writes : _reads).Add(took);
        }
    }

    /// <summary>What was gathered since the last time.</summary>
    public (SoakLatencies Writes, SoakLatencies Reads) Take()
    {
        List<double> writes, reads;
        lock (_lock)
        {
            (writes, reads) = (_writes, _reads);
            (_writes, _reads) = ([], []);
        }

        return (new([.. writes.Order()]), new([.. reads.Order()]));
    }
}

/// <summary>The periods of a soak, and whether they are alike.</summary>
internal sealed class SoakReport(string machine, TimeSpan length, double factsPerSecond, double readsPerSecond, IReadOnlyList<SoakPeriod> periods)
{
    private readonly List<(string Name, double First, double Last, double LineMax)> _lines =
    [
        Line(periods, "memory of the service, MB", p => p.Resident, 1.2),
        Line(periods, "its heap after a collection, MB", p => p.Heap, 1.3),
        Line(periods, "its sessions at the database", p => p.Sessions, 1.1),
        Line(periods, "its open files and sockets", p => p.Files, 1.1),
        Line(periods, "its threads", p => p.Threads, 1.2),
        Line(periods, "posts, median, ms", p => p.Writes.At(0.5), 1.5),
        Line(periods, "posts, 99 %, ms", p => p.Writes.At(0.99), 2),
        Line(periods, "questions, median, ms", p => p.Reads.At(0.5), 1.5),
        Line(periods, "questions, 99 %, ms", p => p.Reads.At(0.99), 2),
    ];

    /// <summary>Whether nothing has grown by more than its line.</summary>
    public bool IsFlat => _lines.TrueForAll(l => l.Last <= l.First * l.LineMax);

    /// <summary>The comparison as a table.</summary>
    public string Verdicts()
    {
        var text = new StringBuilder("| | first quarter | last quarter | ratio | line to keep | |\n| --- | ---: | ---: | ---: | --- | --- |\n");
        foreach (var (name, first, last, most) in _lines)
        {
            text.Append(CultureInfo.InvariantCulture, $"| {name} | {first:0.##} | {last:0.##} | {last / first:0.00} | <= {most} | {(last <= first * most ? "ok" : "short")} |\n");
        }

        return text.ToString();
    }

    /// <summary>The page.</summary>
    public string Markdown(DateTimeOffset now)
    {
        var text = new StringBuilder();
        text.Append(CultureInfo.InvariantCulture, $"""
            # Soak
            Measured on {now:yyyy-MM-dd} with
            ```
            deploy/test --soak {length.TotalMinutes * periods.Count:0}
            ```
            {machine}

            {periods.Sum(p => p.Writes.Count):#,##0} facts in posts of one each at {factsPerSecond:0} a second on 8 connections, beside {readsPerSecond:0} questions a second (readiness, a unit, its build
            record, yields) on 2; all were answered as expected, else there would be no page. A value of a quarter is the median of its periods.

            {Verdicts()}
            Periods of {length.TotalSeconds:0} s, in ms and MB:

            | minute | posts | 50 % | 95 % | 99 % | most | questions | 50 % | 99 % | memory | heap | sessions | files | threads |
            | ---: | ---: | ---: | ---: | ---: | ---: | ---: | ---: | ---: | ---: | ---: | ---: | ---: | ---: |

            """);
        foreach (var period in periods)
        {
            text.AppendLine(period.Row());
        }

        return text.ToString();
    }

    private static (string Name, double First, double Last, double LineMax) Line(IReadOnlyList<SoakPeriod> periods, string name, Func<SoakPeriod, double> value, double most)
    {
        var quarter = Math.Max(1, periods.Count / 4);
        return (name, Median(periods.Take(quarter)), Median(periods.TakeLast(quarter)), most);

        double Median(IEnumerable<SoakPeriod> some)
        {
            var sorted = some.Select(value).Order().ToArray();
            return sorted[sorted.Length / 2];
        }
    }
}
