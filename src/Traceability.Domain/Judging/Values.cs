using Traceability.Domain.Quantities;

namespace Traceability.Domain.Judging;

/// <summary>Values as records carry them, a number and a unit code: converted and compared without ever failing.</summary>
internal static class Values
{
    /// <summary>Converts exactly; false if a code isn't known, the dimensions differ or the result can't be held.</summary>
    public static bool TryConvert(decimal value, string? from, string? to, out decimal converted)
    {
        converted = value;
        if (string.Equals(from, to, StringComparison.Ordinal))
        {
            return from is not null;
        }

        if (UcumUnit.TryParse(from, out var source) && UcumUnit.TryParse(to, out var target)
            && new Quantity(value, source).TryConvertTo(target, out var quantity, out _))
        {
            converted = quantity.Value;
            return true;
        }

        return false;
    }

    /// <summary>Converts a difference, such as an uncertainty: 0.5 K is 0.5 on the scale of Cel, and not a point of it.</summary>
    public static bool TryConvertDifference(decimal value, string? from, string? to, out decimal converted)
    {
        converted = value;
        return string.Equals(from, to, StringComparison.Ordinal)
            ? from is not null
            : TryConvert(value, from, to, out var end) && TryConvert(0m, from, to, out var start) && TryAdd(end, -start, out converted);
    }

    /// <summary>Compares without rounding; false if the two can't be compared.</summary>
    public static bool TryCompare(decimal value, string? unit, decimal limit, string? limitUnit, out int order)
    {
        order = value.CompareTo(limit);
        if (string.Equals(unit, limitUnit, StringComparison.Ordinal))
        {
            return unit is not null;
        }

        return UcumUnit.TryParse(unit, out var source) && UcumUnit.TryParse(limitUnit, out var target)
            && new Quantity(value, source).TryCompareTo(new Quantity(limit, target), out order);
    }

    /// <summary>Adds; false if a decimal can't hold the sum.</summary>
    public static bool TryAdd(decimal a, decimal b, out decimal sum)
    {
        try
        {
            sum = a + b;
            return true;
        }
        catch (OverflowException)
        {
            sum = 0;
            return false;
        }
    }

    /// <summary>Multiplies; false if a decimal can't hold the product.</summary>
    public static bool TryMultiply(decimal a, decimal b, out decimal product)
    {
        try
        {
            product = a * b;
            return true;
        }
        catch (OverflowException)
        {
            product = 0;
            return false;
        }
    }
}
