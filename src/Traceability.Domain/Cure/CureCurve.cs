using System.Runtime.CompilerServices;
using Traceability.Domain.Judging;

namespace Traceability.Domain.Cure;

/// <summary>How fast a consumable cures to one state, by temperature.</summary>
/// <remarks>
/// <para>
/// Between two rows of the table ln(time) is linear in 1/T, T in kelvin (the Arrhenius equation: IUPAC, Compendium of Chemical
/// Terminology, "Arrhenius equation"). Nothing is extrapolated: below the coldest row it earns nothing, above the hottest the time
/// of the hottest row counts. A table in which a hotter row takes longer than a colder one is read with the longer time at both,
/// so that colder never helps.
/// </para>
/// <para>
/// A rate is the part of the whole cure that is earned in one second. Over a stretch in which the temperature is linear in time the
/// rate is integrated by Gauss-Legendre quadrature of five points on parts over which ln(rate) changes by at most one half; the
/// remainder of the rule (Abramowitz and Stegun, Handbook of Mathematical Functions, 25.4.30) is below 1e-15 of an exponential then,
/// so that the dose is exact to about 1e-12 of itself.
/// </para>
/// </remarks>
public sealed class CureCurve
{
    private const double PartMax = 0.5;

    private static readonly ConditionalWeakTable<CureTable, CureCurve?[]> Cache = [];

    // Abramowitz and Stegun, table 25.4, n = 5.
    private static readonly double[] Nodes = [0, 0.5384693101056831, -0.5384693101056831, 0.9061798459386640, -0.9061798459386640];
    private static readonly double[] Weights = [0.5688888888888889, 0.4786286704993665, 0.4786286704993665, 0.2369268850561891, 0.2369268850561891];

    private readonly double[] _kelvin;
    private readonly double[] _logSeconds;

    private CureCurve(double[] kelvin, double[] logSeconds)
    {
        _kelvin = kelvin;
        _logSeconds = logSeconds;
        RateMax = Math.Exp(-logSeconds[^1]);
    }

    /// <summary>The rate at and above the hottest row, in 1/s.</summary>
    public double RateMax { get; }

    /// <summary>The curve to a state; null where no row of the table tells of it.</summary>
    public static CureCurve? Of(CureTable table, CureState state)
    {
        ArgumentNullException.ThrowIfNull(table);
        return Cache.GetValue(table, static t => [Make(t, CureState.Handling), Make(t, CureState.Full)])[state == CureState.Full ? 1 : 0];
    }

    /// <summary>The rate at a temperature in kelvin, in 1/s.</summary>
    public double RateAt(double kelvin)
    {
        if (!(kelvin >= _kelvin[0]))
        {
            return 0;
        }

        if (kelvin >= _kelvin[^1])
        {
            return RateMax;
        }

        var above = Array.FindIndex(_kelvin, k => k > kelvin);
        return Math.Exp(-LogSeconds(above - 1, kelvin));
    }

    /// <summary>The dose that is earned while the temperature goes linearly from one to another; 1 is the whole cure.</summary>
    /// <param name="fromKelvin">At the begin.</param>
    /// <param name="toKelvin">At the end.</param>
    /// <param name="seconds">How long that takes; not negative.</param>
    public double Dose(double fromKelvin, double toKelvin, double seconds)
    {
        if (!(seconds > 0))
        {
            return 0;
        }

        var low = Math.Min(fromKelvin, toKelvin);
        var high = Math.Max(fromKelvin, toKelvin);
        if (low.Equals(high))
        {
            return seconds * RateAt(low);
        }

        var sum = Math.Max(0, high - Math.Max(low, _kelvin[^1])) * RateMax;
        for (var i = 0; i + 1 < _kelvin.Length; i++)
        {
            var from = Math.Max(low, _kelvin[i]);
            var to = Math.Min(high, _kelvin[i + 1]);
            if (from < to)
            {
                sum += Integral(i, from, to);
            }
        }

        return sum * seconds / (high - low);
    }

    // The integral of the rate over the temperature, within one pair of rows.
    private double Integral(int row, double from, double to)
    {
        var change = Math.Abs(LogSeconds(row, from) - LogSeconds(row, to));
        var parts = Math.Max(1, (int)Math.Ceiling(change / PartMax));
        var half = (to - from) / parts / 2;
        var sum = 0.0;
        for (var p = 0; p < parts; p++)
        {
            var middle = from + (((2 * p) + 1) * half);
            for (var n = 0; n < Nodes.Length; n++)
            {
                sum += Weights[n] * Math.Exp(-LogSeconds(row, middle + (half * Nodes[n])));
            }
        }

        return sum * half;
    }

    private double LogSeconds(int row, double kelvin)
    {
        var share = ((1 / kelvin) - (1 / _kelvin[row])) / ((1 / _kelvin[row + 1]) - (1 / _kelvin[row]));
        return _logSeconds[row] + (share * (_logSeconds[row + 1] - _logSeconds[row]));
    }

    private static CureCurve? Make(CureTable table, CureState state)
    {
        var seconds = new SortedDictionary<double, double>();
        foreach (var row in table.Rows.OrEmpty())
        {
            if (row?.To(state) is { } time && time > TimeSpan.Zero && Temperatures.TryKelvin(row.Temperature, out var kelvin))
            {
                seconds[kelvin] = Math.Max(seconds.GetValueOrDefault(kelvin), time.TotalSeconds);
            }
        }

        if (seconds.Count == 0)
        {
            return null;
        }

        var logs = seconds.Values.Select(s => Math.Log(s)).ToArray();
        for (var i = logs.Length - 2; i >= 0; i--)
        {
            logs[i] = Math.Max(logs[i], logs[i + 1]);
        }

        return new([.. seconds.Keys], logs);
    }
}
