using System.Text;

namespace Traceability.Benchmarks.Figures;

/// <summary>The figures measured, each beside its limit.</summary>
internal sealed class Report(string machine)
{
    private readonly List<string> _rows = [];

    /// <summary>Adds a figure that must be at least so many times its limit.</summary>
    public void AtLeast(string name, double measured, double limit, string unit, double line) =>
        Add(name, measured, limit, unit, $">= {Number(line)}", limit > 0 && measured / limit >= line);

    /// <summary>Adds a figure that must be at most so many times its limit.</summary>
    public void AtMost(string name, double measured, double limit, string unit, double line) =>
        Add(name, measured, limit, unit, $"<= {Number(line)}", measured / limit <= line);

    /// <summary>Adds a figure with an absolute line.</summary>
    public void Below(string name, double measured, double line, string unit) =>
        Add(name, measured, line, unit, $"<= {Number(line)} {unit}", measured <= line);

    /// <summary>Adds a figure that has no line to reach.</summary>
    public void Note(string name, double measured, double limit, string unit) => Add(name, measured, limit, unit, "none", null);

    /// <summary>Says something about how it was measured.</summary>
    public void Say(string text)
    {
        Console.WriteLine(text);
        _rows.Add($"| {text} | | | | | |");
    }

    /// <summary>The whole as a Markdown table.</summary>
    public string Markdown()
    {
        var text = new StringBuilder();
        text.AppendLine(machine).AppendLine();
        text.AppendLine("| figure | measured | limit | ratio | line to reach | |");
        text.AppendLine("| --- | ---: | ---: | ---: | --- | --- |");
        _rows.ForEach(r => text.AppendLine(r));
        return text.ToString();
    }

    private void Add(string name, double measured, double limit, string unit, string line, bool? reached)
    {
        var verdict = reached switch { true => "ok", false => "short", null => string.Empty };
        var ratio = Number(measured / limit);
        Console.WriteLine($"{name}: {Number(measured)} {unit}, limit {Number(limit)} {unit}, ratio {ratio}, line {line} {verdict}");
        _rows.Add($"| {name} | {Number(measured)} {unit} | {Number(limit)} {unit} | {ratio} | {line} | {verdict} |");
    }

    private static string Number(double value) => Math.Abs(value) switch
    {
        >= 1000 => value.ToString("#,##0", CultureInfo.InvariantCulture),
        >= 10 => value.ToString("0.0", CultureInfo.InvariantCulture),
        _ => value.ToString("0.###", CultureInfo.InvariantCulture),
    };
}
