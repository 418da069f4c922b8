using Traceability.Benchmarks.Load;

namespace Traceability.Benchmarks.Figures;

/// <summary>One fact per post: the service beside a bare endpoint with one raw INSERT a post, and beside a group commit of raw INSERTs.</summary>
internal static class SinglePostFigure
{
    private sealed record Measured(LoadResult Load, double ServerMicros, double DatabaseMicros);

    private enum Kind
    {
        Service,
        Single,
        Group,
    }

    public static async Task RunAsync(Bench bench, int connections)
    {
        var posts = (connections, bench.IsQuick) switch { (1, true) => 600, (1, false) => 2_000, (_, true) => 12_800, _ => 25_600 };
        var rounds = bench.IsQuick ? 3 : 5;
        await WarmUpAsync(bench);
        var results = Enum.GetValues<Kind>().ToDictionary(k => k, _ => new List<Measured>());
        for (var round = 0; round < rounds; round++)
        {
            foreach (var kind in Enum.GetValues<Kind>())
            {
                results[kind].Add(await RunOnceAsync(bench, kind, connections, posts));
            }
        }

        var rate = results.ToDictionary(r => r.Key, r => Middle(r.Value.Select(v => v.Load.PerSecond)));
        var name = $"one fact a post, {connections} connection{(connections == 1 ? string.Empty : "s")}";
        var median = Middle(results[Kind.Service].Select(r => r.Load.Median));
        if (connections == 1)
        {
            bench.Report.AtMost($"{name}: median, bare endpoint", median, Middle(results[Kind.Single].Select(r => r.Load.Median)), "ms", 1.5);
        }
        else
        {
            bench.Report.AtLeast($"{name}: posts, bare endpoint", rate[Kind.Service], rate[Kind.Single], "1/s", connections >= 256 ? 2.0 : 1.0);
            bench.Report.AtMost($"{name}: 99 %, median", Middle(results[Kind.Service].Select(r => r.Load.P99)), median, "ms", 3);
        }

        bench.Report.Note($"{name}: posts, group commit of raw inserts", rate[Kind.Service], rate[Kind.Group], "1/s");
        foreach (var (kind, runs) in results)
        {
            Console.WriteLine(string.Create(CultureInfo.InvariantCulture, $"  {kind}: processor time a post: server {Middle(runs.Select(r => r.ServerMicros)):0} us, database {Middle(runs.Select(r => r.DatabaseMicros)):0} us"));
        }

        Console.WriteLine($"  each run: {string.Join("; ", results.Select(r => $"{r.Key} {string.Join(' ', r.Value.Select(v => v.Load.PerSecond.ToString("0", CultureInfo.InvariantCulture)))}"))}");
    }

    /// <summary>One run against the service alone, for the figures that need its load.</summary>
    public static async Task<LoadResult> LoadServiceAsync(Bench bench, int connections, int posts) => (await RunOnceAsync(bench, Kind.Service, connections, posts)).Load;

    /// <summary>Posts until the compilers of the servers' processes have nothing left to make better, which takes some 50,000 posts.</summary>
    public static async Task WarmUpAsync(Bench bench)
    {
        if (bench.IsWarm)
        {
            return;
        }

        foreach (var kind in Enum.GetValues<Kind>())
        {
            for (var round = 0; round < (bench.IsQuick ? 3 : 5); round++)
            {
                await RunOnceAsync(bench, kind, 64, 12_800);
            }
        }

        bench.IsWarm = true;
    }

    private static double Middle(IEnumerable<double> values)
    {
        var sorted = values.Order().ToArray();
        return sorted[sorted.Length / 2];
    }

    private static async Task<Measured> RunOnceAsync(Bench bench, Kind kind, int connections, int posts)
    {
        // The same bytes whichever server gets them; the service is sent other facts each time, for it stores a fact once.
        var facts = await bench.PrepareAsync(connections, posts);
        var (at, path) = kind switch
        {
            Kind.Service => (bench.Service.At, "/api/facts"),
            Kind.Single => (bench.Bare.At, "/single"),
            _ => (bench.Bare.At, "/group"),
        };
        var requests = facts.Select(c => c.Select(f => Requests.Post(path, bench.Key, f.Id, f.Json)).ToArray()).ToArray();
        var child = kind == Kind.Service ? bench.Service : bench.Bare;
        var (server, database) = (child.ProcessorTime(), bench.DatabaseProcessorTime());
        var load = await LoadRun.RunAsync(at, requests);
        return new(load, (child.ProcessorTime() - server).TotalMicroseconds / load.Posts, (bench.DatabaseProcessorTime() - database).TotalMicroseconds / load.Posts);
    }
}
