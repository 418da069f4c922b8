namespace Traceability.Benchmarks.Figures;

/// <summary>The service's memory while it records as fast as it can.</summary>
internal static class MemoryFigure
{
    private const int Connections = 256;

    // Until the cache of units is as full as it gets: what it holds is meant to be held.
    private const int WarmUpRounds = 6;

    public static async Task RunAsync(Bench bench)
    {
        var rounds = bench.IsQuick ? 8 : 24;
        var resident = new List<double>();
        var heap = new List<double>();
        for (var round = -WarmUpRounds; round < rounds; round++)
        {
            await SinglePostFigure.LoadServiceAsync(bench, Connections, 12_800);
            if (round < 0)
            {
                continue;
            }

            resident.Add(bench.Service.ResidentMegabytes());
            heap.Add(await bench.MetricAsync("dotnet_gc_last_collection_heap_size_bytes") / (1 << 20));
        }

        bench.Report.Below("memory of the service under load, resident, most", resident.Max(), 400, "MB");
        bench.Report.AtMost("memory of the service, last quarter, first quarter", resident[^(rounds / 4)..].Average(), resident[..(rounds / 4)].Average(), "MB", 1.2);
        bench.Report.Note("heap of the service after its last collection, last quarter, first quarter", heap[^(rounds / 4)..].Average(), heap[..(rounds / 4)].Average(), "MB");
    }
}
