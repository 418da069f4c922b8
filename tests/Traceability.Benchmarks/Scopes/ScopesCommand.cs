using System.Text;
using Traceability.Benchmarks.Figures;

namespace Traceability.Benchmarks.Scopes;

/// <summary>The command "scopes": what a scope takes, cold and warm, as the fleet around it grows.</summary>
internal static class ScopesCommand
{
    private static readonly int[] Sizes = [100, 5_000, 50_000];

    // As stated in the goals of the project.
    private static readonly Dictionary<int, double> Lines = new() { [100] = 3, [5_000] = 15, [50_000] = 150 };

    private const double GrowthLine = 1.3;

    /// <summary>Runs.</summary>
    /// <param name="args">--fleets N,M,... (finals, ascending), --usages N (of each final), --out file.</param>
    public static async Task<int> RunAsync(string[] args)
    {
        int[] fleets = [.. (Value(args, "--fleets") ?? "20000,50000,200000").Split(',').Select(n => int.Parse(n, CultureInfo.InvariantCulture))];
        var usages = int.Parse(Value(args, "--usages") ?? "25", CultureInfo.InvariantCulture);
        await using var bench = await Bench.StartAsync(isQuick: false);
        var fill = new ScopesFill(bench, usages);
        await fill.DefineAsync();
        var times = new List<ScopeTimes>();
        var questions = new List<QuestionTimes>();
        var from = 0;
        foreach (var to in fleets)
        {
            await fill.FillAsync(from, to);
            var measure = new ScopesMeasure(bench);
            times.AddRange(await measure.RunAsync(to, Sizes));
            if (to >= ScopesFill.FinalsFor(ScopesFill.QuestionMembers))
            {
                questions.AddRange(await measure.AskAllAsync(to));
            }

            from = to;
        }

        var text = Report(bench, usages, times) + Environment.NewLine + Report(questions);
        Console.WriteLine(text);
        if (Value(args, "--out") is { } file)
        {
            await File.WriteAllTextAsync(file, text);
        }

        return 0;
    }

    private static string Report(Bench bench, int usages, List<ScopeTimes> times)
    {
        var text = new StringBuilder();
        text.AppendLine(bench.Machine).AppendLine();
        text.AppendLine(bench.DropsCache
            ? "Cold: both servers were started again and the kernel's page cache was dropped before the question."
            : "Cold: both servers were started again before the question; the kernel kept its page cache.");
        text.AppendLine();
        text.AppendLine("| members | units | uses of material | cold, ms | cold by SQL, ms | warm median, ms | warm 99 %, ms | by SQL, ms | median, SQL | line of the median | growth | line 1.3 |");
        text.AppendLine("| ---: | ---: | ---: | ---: | ---: | ---: | ---: | ---: | ---: | --- | ---: | --- |");
        foreach (var size in times.GroupBy(t => t.Members))
        {
            var first = size.First();
            foreach (var t in size)
            {
                var growth = t.Warm / first.Warm;
                var isReached = t.Warm <= Lines[t.Members] && t.Warm <= 3 * t.WarmSql;
                text.AppendLine(
                    CultureInfo.InvariantCulture,
                    $"| {t.Members:#,##0} | {t.Fleet * 4L:#,##0} | {(long)t.Fleet * usages:#,##0} | {t.Cold:0.0} | {t.ColdSql:0.0} | {t.Warm:0.00} | {t.Warm99:0.00} | {t.WarmSql:0.00} | {t.Warm / t.WarmSql:0.00} | {Lines[t.Members]:0} ms, 3 × SQL: {(isReached ? "ok" : "short")} | {growth:0.00} | {(growth <= GrowthLine ? "ok" : "short")} |");
            }
        }

        return text.ToString();
    }

    private static string Report(List<QuestionTimes> questions)
    {
        var text = new StringBuilder();
        text.AppendLine(CultureInfo.InvariantCulture, $"| {ScopesFill.QuestionMembers:#,##0} members, by | units | median, ms | 99 %, ms | growth | line 1.3 |");
        text.AppendLine("| --- | ---: | ---: | ---: | ---: | --- |");
        foreach (var kind in questions.GroupBy(q => q.Name))
        {
            foreach (var q in kind)
            {
                var growth = q.Median / kind.First().Median;
                text.AppendLine(
                    CultureInfo.InvariantCulture,
                    $"| {q.Name} | {q.Fleet * 4L:#,##0} | {q.Median:0.00} | {q.P99:0.00} | {growth:0.00} | {(growth <= GrowthLine ? "ok" : "short")} |");
            }
        }

        return text.ToString();
    }

    private static string? Value(string[] args, string name)
    {
        var at = Array.IndexOf(args, name);
        return at >= 0 && at + 1 < args.Length ? args[at + 1] : null;
    }
}
