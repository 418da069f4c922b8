namespace Traceability.Benchmarks.Figures;

/// <summary>The command "figures": measures, beside its limit, each figure that the service is to reach.</summary>
internal static class FiguresCommand
{
    private static readonly (string Name, Func<Bench, Task> Run)[] All =
    [
        ("single-1", b => SinglePostFigure.RunAsync(b, 1)),
        ("single-32", b => SinglePostFigure.RunAsync(b, 32)),
        ("single-256", b => SinglePostFigure.RunAsync(b, 256)),
        ("batch", BatchFigure.RunAsync),
        ("import", ImportFigure.RunAsync),
        ("rebuild", RebuildFigure.RunAsync),
        ("memory", MemoryFigure.RunAsync),
        ("readiness", ReadinessFigure.RunAsync),
        ("lag", YieldFigure.LagAsync),
        ("scope", ScopeFigure.RunAsync),
        ("yield", YieldFigure.RunAsync),
    ];

    public static int Explain()
    {
        Console.WriteLine($"figures [--quick] [--only name] [--out file]: measures the figures to reach. Names: {string.Join(", ", All.Select(f => f.Name))}");
        return 2;
    }

    public static async Task<int> RunAsync(string[] args)
    {
        var only = Value(args, "--only");
        var chosen = All.Where(f => only is null || f.Name.StartsWith(only, StringComparison.Ordinal)).ToArray();
        if (chosen.Length == 0)
        {
            return Explain();
        }

        await using var bench = await Bench.StartAsync(args.Contains("--quick", StringComparer.Ordinal));
        foreach (var (_, run) in chosen)
        {
            await run(bench);
        }

        if (Value(args, "--out") is { } file)
        {
            await File.WriteAllTextAsync(file, bench.Report.Markdown());
        }

        return 0;
    }

    private static string? Value(string[] args, string name)
    {
        var at = Array.IndexOf(args, name);
        return at >= 0 && at + 1 < args.Length ? args[at + 1] : null;
    }
}
