using System.Globalization;
using System.Numerics;

namespace Traceability.Domain.Quantities;

/// <summary>An exact rational number in lowest terms; the denominator is positive.</summary>
internal readonly record struct Ratio
{
    private Ratio(BigInteger numerator, BigInteger denominator)
    {
        Numerator = numerator;
        Denominator = denominator;
    }

    public static Ratio Zero { get; } = new(BigInteger.Zero, BigInteger.One);

    public static Ratio One { get; } = new(BigInteger.One, BigInteger.One);

    public BigInteger Numerator { get; }

    public BigInteger Denominator { get; }

    public bool IsZero => Numerator.IsZero;

    /// <summary>Bits of the longer of both numbers: what keeps a hostile unit code from growing without bound.</summary>
    public long Bits => Math.Max(Numerator.GetBitLength(), Denominator.GetBitLength());

    public static Ratio Of(BigInteger numerator, BigInteger denominator)
    {
        var divisor = BigInteger.GreatestCommonDivisor(numerator, denominator);
        return denominator.Sign < 0
            ? new(-numerator / divisor, -denominator / divisor)
            : new(numerator / divisor, denominator / divisor);
    }

    public static Ratio Of(decimal value) => Of(Mantissa(value), BigInteger.Pow(10, value.Scale));

    /// <summary>Reads plain decimal digits with at most one point; for the tables of this assembly only.</summary>
    public static Ratio Parse(string digits)
    {
        var point = digits.IndexOf('.', StringComparison.Ordinal);
        var scale = point < 0 ? 0 : digits.Length - point - 1;
        var all = digits.Replace(".", string.Empty, StringComparison.Ordinal);
        return Of(BigInteger.Parse(all, NumberStyles.None, CultureInfo.InvariantCulture), BigInteger.Pow(10, scale));
    }

    public static Ratio operator *(Ratio left, Ratio right) =>
        Of(left.Numerator * right.Numerator, left.Denominator * right.Denominator);

    public static Ratio operator /(Ratio left, Ratio right) =>
        Of(left.Numerator * right.Denominator, left.Denominator * right.Numerator);

    public static Ratio operator +(Ratio left, Ratio right) =>
        Of((left.Numerator * right.Denominator) + (right.Numerator * left.Denominator), left.Denominator * right.Denominator);

    public static Ratio operator -(Ratio left, Ratio right) =>
        Of((left.Numerator * right.Denominator) - (right.Numerator * left.Denominator), left.Denominator * right.Denominator);

    public Ratio Power(int power) => power >= 0
        ? Of(BigInteger.Pow(Numerator, power), BigInteger.Pow(Denominator, power))
        : Of(BigInteger.Pow(Denominator, -power), BigInteger.Pow(Numerator, -power));

    public static int Compare(Ratio left, Ratio right) => (left.Numerator * right.Denominator).CompareTo(right.Numerator * left.Denominator);

    /// <summary>The nearest decimal, ties to even, with as many digits as it can hold; false if it is too large.</summary>
    public bool TryToDecimal(out decimal value)
    {
        var largest = (BigInteger)decimal.MaxValue;
        var magnitude = BigInteger.Abs(Numerator);
        value = 0m;

        // Most digits first: about 28 places less what stands before the point, and then whatever fits.
        var digitsBefore = Math.Max(0, (int)((magnitude.GetBitLength() - Denominator.GetBitLength() - 1) * 0.30103));
        for (var scale = Math.Clamp(29 - digitsBefore, 0, 28); scale >= 0; scale--)
        {
            var mantissa = DivideToNearest(magnitude * BigInteger.Pow(10, scale), Denominator);
            if (mantissa <= largest)
            {
                value = ToDecimal(mantissa, scale, Numerator.Sign < 0);
                return true;
            }
        }

        return false;
    }

    /// <summary>The nearest double, ties to even.</summary>
    public double ToDouble()
    {
        if (Numerator.IsZero)
        {
            return 0;
        }

        // A quotient of 62 or 63 bits, of which the last says whether there is more: that is beyond where a double is rounded.
        var magnitude = BigInteger.Abs(Numerator);
        var shift = (int)(62 - magnitude.GetBitLength() + Denominator.GetBitLength());
        var quotient = BigInteger.DivRem(
            shift > 0 ? magnitude << shift : magnitude, shift < 0 ? Denominator << -shift : Denominator, out var remainder);
        var bits = (ulong)quotient | (remainder.IsZero ? 0ul : 1ul);
        return Math.ScaleB(Numerator.Sign * (double)bits, -shift);
    }

    /// <summary>A decimal with these digits; the mantissa must be at most 96 bits and the scale at most 28.</summary>
    internal static decimal ToDecimal(BigInteger mantissa, int scale, bool negative)
    {
        var bits = decimal.GetBits((decimal)mantissa);
        return new decimal(bits[0], bits[1], bits[2], negative, (byte)scale);
    }

    private static BigInteger Mantissa(decimal value)
    {
        Span<int> bits = stackalloc int[4];
        decimal.GetBits(value, bits);
        return new BigInteger(new decimal(bits[0], bits[1], bits[2], value < 0m, 0));
    }

    private static BigInteger DivideToNearest(BigInteger dividend, BigInteger divisor)
    {
        var quotient = BigInteger.DivRem(dividend, divisor, out var remainder);
        var twice = (remainder * 2).CompareTo(divisor);
        return twice > 0 || (twice == 0 && !quotient.IsEven) ? quotient + 1 : quotient;
    }
}
