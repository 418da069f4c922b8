using System.Diagnostics;
using Traceability.Benchmarks.Load;

namespace Traceability.Benchmarks.Figures;

/// <summary>How soon a terminal is told whether a step may start, while others record as fast as they can.</summary>
internal static class ReadinessFigure
{
    public static async Task RunAsync(Bench bench)
    {
        var asked = (await bench.PrepareAsync(1, 2_000))[0];
        var units = asked.Chunk(FactMaker.Steps).Select(c => System.Text.Json.JsonDocument.Parse(c[0].Json).RootElement.GetProperty("unit").GetProperty("serial").GetString()!).ToArray();
        var questions = units.Select(u => Requests.Post(
            $"/api/units/{FactMaker.Item}/{u}/steps/S-00/readiness",
            bench.Key,
            "-",
            """{"station":"ST-00","person":"P-00","materials":[{"item":"ADH-1","lots":["L-01"],"requirement":"BOND"}],"tools":[{"tool":"SD-00","setting":"5","requirement":"DRIVE"}]}""")).ToArray();
        await SinglePostFigure.WarmUpAsync(bench);
        using (var warm = await RawConnection.OpenAsync(bench.Service.At))
        {
            await warm.WarmUpAsync(questions[0]);
        }

        var idle = await AskAsync(bench, questions, () => false, 400);
        foreach (var connections in new[] { 32, 256 })
        {
            var facts = await bench.PrepareAsync(connections, bench.IsQuick ? 25_600 : 102_400);
            var load = LoadRun.RunAsync(bench.Service.At, [.. facts.Select(c => c.Select(f => Requests.Post("/api/facts", bench.Key, f.Id, f.Json)).ToArray())]);
            var busy = await AskAsync(bench, questions, () => load.IsCompleted, int.MaxValue);
            await load;
            bench.Report.Below($"readiness, {connections} connections recording: 99 %", busy[(int)(busy.Count * 0.99)], 5, "ms");
            bench.Report.Note($"readiness, {connections} connections recording: median, idle median", busy[busy.Count / 2], idle[idle.Count / 2], "ms");
        }
    }

    // On a thread of its own: those who record are hundreds of tasks of this process, and the time until it comes round to this one is none
    // of the service's.
    private static async Task<List<double>> AskAsync(Bench bench, byte[][] questions, Func<bool> isOver, int most)
    {
        using var connection = await RawConnection.OpenAsync(bench.Service.At);
        var times = new List<double>();
        await Task.Factory.StartNew(Ask, CancellationToken.None, TaskCreationOptions.LongRunning, TaskScheduler.Default);
        times.Sort();
        return times;

        void Ask()
        {
            for (var i = 0; i < most && !isOver(); i++)
            {
                var started = Stopwatch.GetTimestamp();
                if (connection.Send(questions[i % questions.Length]) is not 200)
                {
                    throw new InvalidOperationException($"Readiness was answered {connection.LastAnswer}");
                }

                times.Add(Stopwatch.GetElapsedTime(started).TotalMilliseconds);
                Thread.Sleep(5);
            }
        }
    }
}
