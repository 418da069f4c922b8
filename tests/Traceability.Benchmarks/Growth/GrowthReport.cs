using System.Text;

namespace Traceability.Benchmarks.Growth;

/// <summary>The figures as Markdown tables.</summary>
internal static class GrowthReport
{
    /// <summary>A line for each figure, a column for each layout and size.</summary>
    public static string Layouts(IReadOnlyList<GrowthFigures> figures)
    {
        var text = new StringBuilder();
        text.AppendLine(CultureInfo.InvariantCulture, $"| | {string.Join(" | ", figures.Select(f => $"{Name(f.Layout)}, {f.Events / 1e6:0.0} M facts"))} |");
        text.AppendLine(CultureInfo.InvariantCulture, $"| --- |{string.Concat(Enumerable.Repeat(" ---: |", figures.Count))}");
        foreach (var (name, unit) in figures.SelectMany(f => f.Values).Select(v => (v.Name, v.Unit)).Distinct())
        {
            var cells = figures.Select(f => f.Values.Where(v => v.Name == name).Select(v => Number(v.Value)).FirstOrDefault() ?? string.Empty);
            text.AppendLine(CultureInfo.InvariantCulture, $"| {name}, {unit} | {string.Join(" | ", cells)} |");
        }

        return text.ToString();
    }

    /// <summary>A line for each number of shards.</summary>
    public static string Shards(IReadOnlyList<ShardFigures> figures)
    {
        var text = new StringBuilder();
        text.AppendLine("| shards | commits on one shard | shards touched by a commit | installs that cross | fullest shard, × even | busiest committer of 256 waiting | × one shard's rate, by count | scope: rounds, mean (most) | shards asked, rows by parent | shards asked, rows by component too | rows moved |");
        text.AppendLine("| ---: | ---: | ---: | ---: | ---: | ---: | ---: | ---: | ---: | ---: | ---: |");
        foreach (var f in figures)
        {
            var touched = f.ShardsTouched / (double)f.UnitFacts;
            var skew = f.Fullest * f.Shards / (double)f.UnitFacts;
            text.AppendLine(
                CultureInfo.InvariantCulture,
                $"| {f.Shards} | {100.0 * f.OneShard / f.UnitFacts:0.0} % | {touched:0.000} | {100.0 * f.CrossingInstalls / f.Installs:0.0} % | {skew:0.00} | {f.GroupMax:0.0} | {f.Shards / (touched * skew):0.00} | {f.Scope.Rounds / (double)f.Lots:0.0} ({f.Scope.RoundsMax}) | {f.Scope.AskedByParent / (double)f.Lots:0.0} | {f.Scope.AskedByComponent / (double)f.Lots:0.0} | {f.Scope.Rows / (double)f.Lots:0} |");
        }

        var one = figures[0];
        text.AppendLine();
        text.AppendLine(
            CultureInfo.InvariantCulture,
            $"{one.UnitFacts:#,##0} unit facts, {one.ReferenceFacts:#,##0} facts of reference data ({100.0 * one.ReferenceFacts / (one.UnitFacts + one.ReferenceFacts):0.0} %), {one.Installs:#,##0} installs, {one.Lots:#,##0} lots with {one.Scope.Members / (double)one.Lots:0} members each on average.");
        return text.ToString();
    }

    private static string Name(Layout layout) => layout switch { Layout.One => "one table", Layout.Hash => "16 by hash", _ => "by month" };

    private static string Number(double value) => Math.Abs(value) switch
    {
        >= 100 => value.ToString("#,##0", CultureInfo.InvariantCulture),
        >= 10 => value.ToString("0.0", CultureInfo.InvariantCulture),
        _ => value.ToString("0.###", CultureInfo.InvariantCulture),
    };
}
