using System.Collections.Frozen;
using System.Globalization;
using System.Runtime.InteropServices;
using System.Text;

namespace Traceability.Domain.Quantities;

/// <summary>What kind of thing a unit measures: the powers of the base dimensions, all zero for a plain number.</summary>
/// <param name="Length">Power of length (metre).</param>
/// <param name="Mass">Power of mass (gram).</param>
/// <param name="Time">Power of time (second).</param>
/// <param name="Current">Power of electric current (ampere). UCUM's base is the charge (coulomb); one follows from the other.</param>
/// <param name="Temperature">Power of thermodynamic temperature (kelvin).</param>
/// <param name="LuminousIntensity">Power of luminous intensity (candela).</param>
/// <param name="Angle">Power of plane angle (radian). UCUM counts it as a base dimension, so an angle is never taken for a count.</param>
/// <remarks>
/// Torque and energy have the same dimension, as in the SI: N.m and J convert into each other.
/// Source: UCUM 2.2, section 4.2, table of base units.
/// </remarks>
[StructLayout(LayoutKind.Auto)]
public readonly record struct Dimension(
    sbyte Length = 0,
    sbyte Mass = 0,
    sbyte Time = 0,
    sbyte Current = 0,
    sbyte Temperature = 0,
    sbyte LuminousIntensity = 0,
    sbyte Angle = 0)
{
    /// <summary>The greatest power, up or down, that any base dimension may have.</summary>
    internal const int PowerMax = 12;

    private static readonly FrozenDictionary<Dimension, string> Names = new Dictionary<Dimension, string>
    {
        [default] = "a plain number",
        [new(Length: 1)] = "length",
        [new(Length: 2)] = "area",
        [new(Length: 3)] = "volume",
        [new(Mass: 1)] = "mass",
        [new(Time: 1)] = "time",
        [new(Time: -1)] = "frequency",
        [new(Temperature: 1)] = "temperature",
        [new(Angle: 1)] = "plane angle",
        [new(Current: 1)] = "electric current",
        [new(Current: 1, Time: 1)] = "electric charge",
        [new(Length: 2, Mass: 1, Time: -3, Current: -1)] = "voltage",
        [new(Length: 2, Mass: 1, Time: -3, Current: -2)] = "electric resistance",
        [new(Length: 2, Mass: 1, Time: -3)] = "power or leak rate",
        [new(Length: 1, Mass: 1, Time: -2)] = "force",
        [new(Length: 2, Mass: 1, Time: -2)] = "torque or energy",
        [new(Length: -1, Mass: 1, Time: -2)] = "pressure",
        [new(Length: -1, Mass: 1, Time: -1)] = "viscosity",
        [new(Length: 1, Time: -1)] = "speed",
        [new(Length: 3, Time: -1)] = "volume flow",
        [new(Length: -3, Mass: 1)] = "density",
    }.ToFrozenDictionary();

    /// <summary>Whether every power is zero: a count, a ratio, a percentage.</summary>
    public bool IsNumber => this == default;

    /// <summary>A word for people, such as "pressure"; the powers where no usual word exists.</summary>
    public string Name => Names.TryGetValue(this, out var name) ? name : "the dimension " + ToString();

    /// <summary>The powers, such as "L2.M.T-2"; "1" for a plain number.</summary>
    public override string ToString()
    {
        var text = new StringBuilder();
        Append(text, "L", Length);
        Append(text, "M", Mass);
        Append(text, "T", Time);
        Append(text, "I", Current);
        Append(text, "Theta", Temperature);
        Append(text, "J", LuminousIntensity);
        Append(text, "A", Angle);
        return text.Length == 0 ? "1" : text.ToString();
    }

    /// <summary>This dimension times <paramref name="other"/> to the power; false where a power leaves ±<see cref="PowerMax"/>.</summary>
    internal bool TryMultiply(Dimension other, int power, out Dimension product)
    {
        var fits = true;
        product = new Dimension(
            Add(Length, other.Length, power, ref fits),
            Add(Mass, other.Mass, power, ref fits),
            Add(Time, other.Time, power, ref fits),
            Add(Current, other.Current, power, ref fits),
            Add(Temperature, other.Temperature, power, ref fits),
            Add(LuminousIntensity, other.LuminousIntensity, power, ref fits),
            Add(Angle, other.Angle, power, ref fits));
        return fits;
    }

    private static sbyte Add(sbyte own, sbyte other, int power, ref bool fits)
    {
        var sum = own + (other * power);
        if (Math.Abs(sum) <= PowerMax)
        {
            return (sbyte)sum;
        }

        fits = false;
        return 0;
    }

    private static void Append(StringBuilder text, string symbol, sbyte power)
    {
        if (power == 0)
        {
            return;
        }

        text.Append(text.Length == 0 ? string.Empty : ".").Append(symbol);
        if (power != 1)
        {
            text.Append(power.ToString(CultureInfo.InvariantCulture));
        }
    }
}
