using System.Text;
using Traceability.Benchmarks.Figures;
using Traceability.Simulator.Plant;

namespace Traceability.Benchmarks.Growth;

/// <summary>The command "growth": what ten years of records do to the large tables in three layouts, and what shards would do.</summary>
internal static class GrowthCommand
{
    private const int PlantFinals = 400;

    /// <summary>Runs.</summary>
    /// <param name="args">--rows N,M,... (events at each size, ascending), --layout one|hash|month, --shards-only, --out file.</param>
    public static async Task<int> RunAsync(string[] args)
    {
        long[] rows = [.. (Value(args, "--rows") ?? "1000000,8000000").Split(',').Select(n => long.Parse(n, CultureInfo.InvariantCulture))];
        Layout[] layouts = Value(args, "--layout") is { } layout ? [Enum.Parse<Layout>(layout, ignoreCase: true)] : Enum.GetValues<Layout>();
        var text = new StringBuilder();
        if (!args.Contains("--shards-only", StringComparer.Ordinal))
        {
            var figures = new List<GrowthFigures>();
            foreach (var form in layouts)
            {
                var (machine, measured) = await MeasureAsync(form, rows);
                text.Clear().AppendLine(machine).AppendLine();
                figures.AddRange(measured);
            }

            text.Append(GrowthReport.Layouts(figures)).AppendLine();
        }

        text.Append(GrowthReport.Shards(Simulate()));
        Console.WriteLine(text);
        if (Value(args, "--out") is { } file)
        {
            await File.WriteAllTextAsync(file, text.ToString());
        }

        return 0;
    }

    /// <summary>The figures of the simulated plant on 1, 2, 4, 8 and 16 shards.</summary>
    internal static IReadOnlyList<ShardFigures> Simulate()
    {
        var plant = DemoPlant.Build(20_260_101, PlantFinals, new(2026, 6, 30, 16, 0, 0, TimeSpan.Zero));
        ShardedFact[] facts = [.. plant.Facts.Select(ShardedFact.Of)];
        return [.. new[] { 1, 2, 4, 8, 16 }.Select(k => ShardSimulation.Run(facts, k))];
    }

    private static async Task<(string Machine, List<GrowthFigures> Figures)> MeasureAsync(Layout layout, long[] rows)
    {
        await using var bench = await Bench.StartAsync(isQuick: true);
        var now = TimeProvider.System.GetUtcNow();
        await bench.ExecuteAsync(bench.ServiceDatabase, "create extension pageinspect");
        var first = GrowthFill.FirstDay(now);
        await bench.ExecuteAsync(bench.ServiceDatabase, Layouts.Sql(layout, new(first.Year, first.Month, 1), 123));
        const int EventsOfUnit = Load.FactMaker.Steps + 1;
        long[] sizes = [.. rows.Select(r => Math.Max(1, r / EventsOfUnit / GrowthFill.Block) * GrowthFill.Block)];
        var fill = new GrowthFill(bench, sizes[^1]);
        await fill.LearnAsync();
        var measured = new List<GrowthFigures>();
        var from = 0L;
        foreach (var to in sizes)
        {
            var rate = await fill.FillAsync(from, to);
            measured.Add(await new GrowthMeasure(bench, layout).RunAsync(fill, to, rate, now));
            from = to;
        }

        return (bench.Machine, measured);
    }

    private static string? Value(string[] args, string name)
    {
        var at = Array.IndexOf(args, name);
        return at >= 0 && at + 1 < args.Length ? args[at + 1] : null;
    }
}
