using Traceability.Domain.Facts;
using Traceability.Domain.Primitives;
using Traceability.Domain.Statistics;

namespace Traceability.Domain.Tools;

/// <summary>One check on the drift chart.</summary>
/// <param name="Check">The check.</param>
/// <param name="Verdict">What it says against its own limits.</param>
/// <param name="Value">The mean of its readings.</param>
/// <param name="MovingRange">The distance from the value before; null at the first.</param>
/// <param name="Average">The weighted moving average; null without limits.</param>
/// <param name="IsOut">The value is outside the chart's limits.</param>
/// <param name="IsDrifting">The average is outside its limits.</param>
public sealed record DriftPoint(
    EffectiveFact Check, CheckVerdict Verdict, double Value, double? MovingRange, double? Average, bool IsOut, bool IsDrifting);

/// <summary>The checks of a tool at one setting as a chart: does it drift?</summary>
/// <param name="Unit">The unit of the figures: that of the first reading.</param>
/// <param name="BaselineCount">How many checks, from the first one on, the limits were worked out from.</param>
/// <param name="Limits">The limits of single values; null for fewer than two checks.</param>
/// <param name="Ewma">The moving averages with their limits; null for fewer than two checks.</param>
/// <param name="Points">The checks, oldest first.</param>
/// <remarks>
/// The limits come from the first <see cref="BaselineMax"/> checks, so that a drift can't widen the limits that it is to be seen by
/// (common practice, no source; the formulas name theirs). A chart signal is a question, not a failed check: it makes nothing suspect.
/// </remarks>
public sealed record ToolDrift(string? Unit, int BaselineCount, IndividualsChart? Limits, EwmaChart? Ewma, ImmutableArray<DriftPoint> Points)
{
    /// <summary>The most checks that the limits are worked out from.</summary>
    public const int BaselineMax = 20;

    /// <summary>The chart of the checks at a setting in a period.</summary>
    /// <param name="tool">The tool.</param>
    /// <param name="setting">The setting; null: checks of the tool as a whole.</param>
    /// <param name="from">Begin of the period, included; null: from the first check on.</param>
    /// <param name="to">End of the period, excluded; null: to the last.</param>
    public static ToolDrift Of(Tool tool, Code? setting, DateTimeOffset? from, DateTimeOffset? to)
    {
        ArgumentNullException.ThrowIfNull(tool);
        string? unit = null;
        var checks = new List<(EffectiveFact Fact, CheckVerdict Verdict, double Value)>();
        foreach (var fact in tool.Effective)
        {
            if (fact is { IsVoided: false, Fact: ToolChecked check } && check.Setting == setting && !check.Readings.IsDefaultOrEmpty
                && (from is not { } begin || fact.At >= begin) && (to is not { } end || fact.At < end)
                && Readings.TryIn(check.Readings, unit ??= check.Readings[0].Unit, out var values))
            {
                checks.Add((fact, ToolCheck.Of(check), SampleFigures.Of(values.AsSpan()).Mean));
            }
        }

        double[] means = [.. checks.Select(c => c.Value)];
        var baseline = Math.Min(means.Length, BaselineMax);
        var limits = IndividualsChart.Of(means.AsSpan(0, baseline));
        var ewma = limits is null ? null : EwmaChart.Of(means, limits.Centre, limits.Sigma);
        return new(
            unit,
            baseline,
            limits,
            ewma,
            [.. checks.Select((c, i) => new DriftPoint(
                c.Fact,
                c.Verdict,
                c.Value,
                i == 0 ? null : Math.Abs(c.Value - means[i - 1]),
                ewma?.Averages[i],
                limits is not null && (c.Value < limits.Lower || c.Value > limits.Upper),
                ewma is not null && (ewma.Averages[i] < ewma.Lower || ewma.Averages[i] > ewma.Upper)))]);
    }
}
