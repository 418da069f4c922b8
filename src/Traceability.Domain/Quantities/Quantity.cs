using System.Diagnostics.CodeAnalysis;
using System.Globalization;

namespace Traceability.Domain.Quantities;

/// <summary>Why a quantity could not be converted.</summary>
public enum ConversionFault
{
    /// <summary>It could.</summary>
    None = 0,

    /// <summary>The two units measure different things.</summary>
    DimensionMismatch = 1,

    /// <summary>The result is larger than a decimal can hold (about 7.9e28).</summary>
    TooLarge = 2,

    /// <summary>The value is not zero, but the result would be written as zero (below about 5e-29).</summary>
    TooSmall = 3,
}

/// <summary>A recorded value with its unit, held as it was reported: 0.450 N.m keeps its three places.</summary>
/// <param name="Value">The number; finite by construction.</param>
/// <param name="Unit">The unit.</param>
/// <remarks>
/// <para>
/// Equality is that of record and unit as written: 1 m and 100 cm compare as equal by
/// <see cref="TryCompareTo"/>, but are not the same record. A <c>default</c> quantity has no unit, and says so when asked.
/// </para>
/// <para>
/// A temperature in Cel or [degF] is a point on a scale, and converts as one. A difference of temperatures is
/// recorded in K; a Cel value is never taken for an interval. Source: UCUM 2.2, section 3.1.
/// </para>
/// </remarks>
public readonly record struct Quantity(decimal Value, UcumUnit Unit)
{
    private readonly UcumUnit? _unit = Unit ?? throw new ArgumentNullException(nameof(Unit));

    /// <summary>The unit.</summary>
    public UcumUnit Unit => _unit ?? throw new InvalidOperationException("A default Quantity has no unit.");

    /// <summary>Reads a number and a UCUM code with one space between, such as "0.45 N.m"; otherwise says what is wrong.</summary>
    /// <param name="text">The text; the number alone is read as a plain number.</param>
    /// <param name="quantity">The quantity.</param>
    /// <param name="reason">Why not, for a person.</param>
    public static bool TryParse(string? text, out Quantity quantity, [NotNullWhen(false)] out string? reason)
    {
        quantity = default;
        var written = text ?? string.Empty;
        var space = written.IndexOf(' ', StringComparison.Ordinal);
        var number = space < 0 ? written : written[..space];
        if (!RecordedValue.TryParse(number, out var value, out reason)
            || !UcumUnit.TryParse(space < 0 ? "1" : written[(space + 1)..], out var unit, out reason))
        {
            return false;
        }

        quantity = new Quantity(value, unit);
        return true;
    }

    /// <summary>Converts into another unit of the same dimension.</summary>
    /// <param name="target">The unit wanted.</param>
    /// <param name="converted">
    /// The result: exact wherever a decimal can hold it, otherwise the nearest decimal (ties to even). In the unit
    /// that it already has, the value is returned as written; else trailing zeros are dropped, since they would be no measured digits.
    /// </param>
    /// <param name="fault">What prevented it; <see cref="DescribeFault"/> puts it in words.</param>
    public bool TryConvertTo(UcumUnit target, out Quantity converted, out ConversionFault fault)
    {
        ArgumentNullException.ThrowIfNull(target);
        converted = default;
        if (!Unit.IsCommensurableWith(target))
        {
            fault = ConversionFault.DimensionMismatch;
            return false;
        }

        var conversion = UnitConversion.Between(Unit, target);
        if (!conversion.TryConvert(Value, out var value))
        {
            fault = ConversionFault.TooLarge;
            return false;
        }

        if (value == 0m && conversion.Compare(Value, 0m) != 0)
        {
            fault = ConversionFault.TooSmall;
            return false;
        }

        converted = new Quantity(value, target);
        fault = ConversionFault.None;
        return true;
    }

    /// <summary>Converts into another unit, as <see cref="TryConvertTo"/>; for units known to fit.</summary>
    /// <exception cref="InvalidOperationException">It cannot be converted; the message says why.</exception>
    public Quantity ConvertTo(UcumUnit target) =>
        TryConvertTo(target, out var converted, out var fault) ? converted : throw new InvalidOperationException(DescribeFault(target, fault));

    /// <summary>Compares with a limit, in the unit of the limit and without rounding: 11/32 inch is never a hair above itself in millimetres.</summary>
    /// <param name="limit">What to compare with.</param>
    /// <param name="order">Negative if this is below the limit, zero if it is exactly on it, positive if above.</param>
    /// <returns>False if the dimensions differ; no value then passes or fails.</returns>
    public bool TryCompareTo(Quantity limit, out int order)
    {
        var commensurable = Unit.IsCommensurableWith(limit.Unit);
        order = commensurable ? UnitConversion.Between(Unit, limit.Unit).Compare(Value, limit.Value) : 0;
        return commensurable;
    }

    /// <summary>The value in the coherent SI unit of its dimension (a product of powers of m, kg, s, A, K, cd and rad), as the nearest double.</summary>
    /// <remarks>
    /// Rounded once, after an exact conversion: two quantities that are equal have the same number, and of two that differ the
    /// smaller one never has the larger number. Source: the SI Brochure, 9th edition (2019), 2.3.4; a scale such as Cel is converted to K.
    /// </remarks>
    public double ToCoherent() => ((Ratio.Of(Value) + Unit.Offset) * Unit.CoherentFactor).ToDouble();

    /// <summary>A sentence for the person who sent the quantity.</summary>
    public string DescribeFault(UcumUnit target, ConversionFault fault)
    {
        ArgumentNullException.ThrowIfNull(target);
        return fault switch
        {
            ConversionFault.DimensionMismatch =>
                $"'{Unit.Code}' measures {Unit.Dimension.Name}, but '{target.Code}' measures {target.Dimension.Name}.",
            ConversionFault.TooLarge => $"{this} is too large to be written in '{target.Code}'.",
            ConversionFault.TooSmall => $"{this} is too small to be written in '{target.Code}'.",
            ConversionFault.None => $"{this} can be written in '{target.Code}'.",
            _ => throw new ArgumentOutOfRangeException(nameof(fault), fault, "Not a conversion fault."),
        };
    }

    /// <summary>The value with its own digits, a space, and the code.</summary>
    public override string ToString() => string.Create(CultureInfo.InvariantCulture, $"{Value} {_unit?.Code ?? "(no unit)"}");
}
