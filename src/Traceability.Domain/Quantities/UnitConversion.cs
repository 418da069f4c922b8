using System.Collections.Concurrent;
using System.Numerics;

namespace Traceability.Domain.Quantities;

/// <summary>The exact way from readings in one unit to readings in another: target = source × slope + intercept.</summary>
/// <remarks>
/// Held twice. The rational form is exact and always right. The decimal form, (x + before) × multiplier ÷ divisor
/// + after, allocates nothing; it is used only where each of its steps is seen to have been exact up to the last division.
/// </remarks>
internal sealed class UnitConversion
{
    private const int CacheEntriesMax = 4096;
    private const double FastMagnitudeMax = 1e27;

    private static readonly ConcurrentDictionary<(UcumUnit From, UcumUnit To), UnitConversion> Cache = new();

    private readonly Ratio _slope;
    private readonly Ratio _intercept;
    private readonly bool _isIdentity;
    private readonly bool _hasDecimalForm;
    private readonly decimal _before;
    private readonly decimal _multiplier = 1m;
    private readonly decimal _divisor = 1m;
    private readonly decimal _after;
    private readonly double _growth;

    private UnitConversion(UcumUnit from, UcumUnit to)
    {
        var pi = UcumAtoms.Pi.Power(from.Magnitude.PiPower - to.Magnitude.PiPower);
        _slope = from.Magnitude.Factor / to.Magnitude.Factor * pi;
        _intercept = (from.Offset * _slope) - to.Offset;
        _isIdentity = _slope == Ratio.One && _intercept.IsZero;
        _hasDecimalForm = TrySplit(_slope, out _multiplier, out _divisor)
            && TryPlaceOffset(_intercept, _slope, _divisor, out _before, out _after);
        _growth = _hasDecimalForm ? Math.Max(1, Math.Max((double)_multiplier, (double)_multiplier / (double)_divisor)) : double.PositiveInfinity;
    }

    /// <summary>The conversion between two units of one dimension, remembered.</summary>
    public static UnitConversion Between(UcumUnit from, UcumUnit to)
    {
        if (Cache.TryGetValue((from, to), out var known))
        {
            return known;
        }

        if (Cache.Count >= CacheEntriesMax)
        {
            Cache.Clear();
        }

        return Cache.GetOrAdd((from, to), static key => new UnitConversion(key.From, key.To));
    }

    /// <summary>Converts; the nearest decimal where the exact result has more digits than one can hold. False if it is too large.</summary>
    public bool TryConvert(decimal value, out decimal converted)
    {
        if (_isIdentity)
        {
            converted = value;
            return true;
        }

        if (TryScale(value, out converted)
            && (_divisor == 1m || TryDivide(ref converted))
            && (_after == 0m || TryAdd(converted, _after, out converted)))
        {
            converted = WithoutTrailingZeros(converted);
            return true;
        }

        return TryConvertExactly(value, out converted);
    }

    /// <summary>Converts by the rational form alone.</summary>
    public bool TryConvertExactly(decimal value, out decimal converted)
    {
        var fits = ((Ratio.Of(value) * _slope) + _intercept).TryToDecimal(out converted);
        converted = WithoutTrailingZeros(converted);
        return fits;
    }

    /// <summary>Compares a reading in the source unit with a limit in the target unit, without rounding either.</summary>
    public int Compare(decimal value, decimal limit)
    {
        if (_isIdentity)
        {
            return value.CompareTo(limit);
        }

        if (TryScale(value, out var left)
            && TryAdd(left, _after, out left)
            && Math.Abs((double)limit) * (double)_divisor < FastMagnitudeMax
            && TryMultiply(limit, _divisor, out var right))
        {
            return left.CompareTo(right);
        }

        return Ratio.Compare((Ratio.Of(value) * _slope) + _intercept, Ratio.Of(limit));
    }

    private bool TryScale(decimal value, out decimal scaled)
    {
        scaled = 0m;
        return _hasDecimalForm
            && (Math.Abs((double)value) + (double)Math.Abs(_before)) * _growth < FastMagnitudeMax
            && TryAdd(value, _before, out scaled)
            && TryMultiply(scaled, _multiplier, out scaled);
    }

    private bool TryDivide(ref decimal value)
    {
        value /= _divisor;
        return true;
    }

    // A decimal product has the sum of both scales unless it had to be rounded.
    private static bool TryMultiply(decimal left, decimal right, out decimal product)
    {
        product = left * right;
        return product.Scale == left.Scale + right.Scale;
    }

    // A decimal sum has the longer of both scales unless it had to be rounded.
    private static bool TryAdd(decimal left, decimal right, out decimal sum)
    {
        sum = left + right;
        return sum.Scale == Math.Max(left.Scale, right.Scale);
    }

    // Dividing by a one with 28 zeros is the runtime's own way to the shortest form of the same number.
    private static decimal WithoutTrailingZeros(decimal value) =>
        value.Scale == 0 ? value : value / 1.0000000000000000000000000000m;

    // The slope as multiplier ÷ divisor, powers of ten moved into their scales; no divisor where decimals suffice.
    private static bool TrySplit(Ratio slope, out decimal multiplier, out decimal divisor)
    {
        multiplier = divisor = 1m;
        var rest = slope.Denominator;
        var twos = CountFactor(ref rest, 2);
        var fives = CountFactor(ref rest, 5);
        var scale = Math.Max(twos, fives);
        var top = slope.Numerator * BigInteger.Pow(2, scale - twos) * BigInteger.Pow(5, scale - fives);
        var divisorScale = 0;
        if (!rest.IsOne)
        {
            while (top % 10 == 0)
            {
                top /= 10;
                divisorScale++;
            }
        }

        if (scale > 28 || divisorScale > 28 || top > (BigInteger)decimal.MaxValue || rest > (BigInteger)decimal.MaxValue)
        {
            return false;
        }

        multiplier = Ratio.ToDecimal(top, scale, negative: false);
        divisor = Ratio.ToDecimal(rest, divisorScale, negative: false);
        return true;
    }

    // The offset goes where it is a finite decimal: before the factor, or after it if nothing is divided there.
    private static bool TryPlaceOffset(Ratio intercept, Ratio slope, decimal divisor, out decimal before, out decimal after)
    {
        before = after = 0m;
        if (intercept.IsZero)
        {
            return true;
        }

        if (divisor == 1m && TryFinite(intercept, out after))
        {
            return true;
        }

        after = 0m;
        return TryFinite(intercept / slope, out before);
    }

    // As short as it can be written: spare zeros would use up the scale that a reading needs.
    private static bool TryFinite(Ratio exact, out decimal value)
    {
        var fits = exact.TryToDecimal(out value) && Ratio.Of(value) == exact;
        value = WithoutTrailingZeros(value);
        return fits;
    }

    private static int CountFactor(ref BigInteger number, int factor)
    {
        var count = 0;
        while (number % factor == 0)
        {
            number /= factor;
            count++;
        }

        return count;
    }
}
