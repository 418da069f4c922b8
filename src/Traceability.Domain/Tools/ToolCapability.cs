using Traceability.Domain.Facts;
using Traceability.Domain.Judging;
using Traceability.Domain.Primitives;
using Traceability.Domain.Statistics;

namespace Traceability.Domain.Tools;

/// <summary>What the capability studies of a tool at one setting tell.</summary>
/// <param name="Setting">The setting.</param>
/// <param name="Unit">The unit of the figures: that of the first reading that counts.</param>
/// <param name="Figures">The figures.</param>
/// <param name="Studies">The studies that they rest on: the last one on each joint.</param>
public sealed record ToolCapability(Code Setting, string Unit, TorqueCapability Figures, ImmutableArray<EffectiveFact> Studies)
{
    /// <summary>The capability at a setting; null if no study of it has two readings that can be compared.</summary>
    public static ToolCapability? Of(Tool tool, Code setting)
    {
        ArgumentNullException.ThrowIfNull(tool);
        var studies = tool.Effective
            .Where(f => f is { IsVoided: false, Fact: ToolStudied studied } && studied.Setting == setting && studied.Readings.OrEmpty().Length > 1)
            .GroupBy(f => ((ToolStudied)f.Fact).Joint)
            .Select(g => g.Last())
            .OrderBy(f => ((ToolStudied)f.Fact).Joint.Value, StringComparer.Ordinal)
            .ToImmutableArray();
        if (studies.IsEmpty)
        {
            return null;
        }

        var unit = ((ToolStudied)studies[0].Fact).Readings[0].Unit;
        studies = [.. studies.Where(s => Readings.TryIn(((ToolStudied)s.Fact).Readings, unit, out _))];
        var figures = TorqueCapability.Of(studies.Select(s =>
        {
            Readings.TryIn(((ToolStudied)s.Fact).Readings, unit, out var values);
            return new KeyValuePair<Code, ImmutableArray<double>>(((ToolStudied)s.Fact).Joint, values);
        }));
        return figures is null ? null : new(setting, unit, figures, studies);
    }
}

/// <summary>Readings as numbers for statistics.</summary>
internal static class Readings
{
    /// <summary>The readings in a unit, converted exactly before they become floating-point numbers; false if one can't be converted.</summary>
    public static bool TryIn(ImmutableArray<EnteredQuantity> readings, string unit, out ImmutableArray<double> values)
    {
        values = [];
        var converted = ImmutableArray.CreateBuilder<double>(readings.OrEmpty().Length);
        foreach (var reading in readings.OrEmpty())
        {
            if (!Values.TryConvert(reading.Value, reading.Unit, unit, out var value))
            {
                return false;
            }

            converted.Add((double)value);
        }

        values = converted.MoveToImmutable();
        return true;
    }
}
