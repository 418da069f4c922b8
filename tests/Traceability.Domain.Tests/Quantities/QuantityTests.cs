using System.Globalization;
using Traceability.Domain.Quantities;
using Xunit;

namespace Traceability.Domain.Tests.Quantities;

public sealed class QuantityTests
{
    // Source beside each group. SP 811 gives most factors to seven digits; the ones here in full are the products of
    // its exact constituents (footnotes of appendix B): 0.45359237 kg, 9.80665 m/s², 0.0254 m.
    [Theory]
    // NIST SP 811 (2008), appendix B.8, moment of force or torque
    [InlineData("1", "[lbf_av].[in_i]", "N.m", "0.1129848290276167")]
    [InlineData("1", "[lbf_av].[ft_i]", "N.m", "1.3558179483314004")]
    [InlineData("16", "[oz_av].[g].[in_i]", "[lbf_av].[in_i]", "1")]
    [InlineData("1", "kgf.m", "N.m", "9.80665")]
    [InlineData("45", "cN.m", "N.m", "0.45")]
    // the same, length, mass, force
    [InlineData("1", "[in_i]", "mm", "25.4")]
    [InlineData("1", "[ft_i]", "m", "0.3048")]
    [InlineData("1", "[mil_i]", "um", "25.4")]
    [InlineData("1", "[lb_av]", "kg", "0.45359237")]
    [InlineData("1", "[oz_av]", "g", "28.349523125")]
    [InlineData("1", "[gr]", "mg", "64.79891")]
    [InlineData("1", "[lbf_av]", "N", "4.4482216152605")]
    [InlineData("1", "dyn", "N", "0.00001")]
    // the same, pressure
    [InlineData("1", "bar", "kPa", "100")]
    [InlineData("1", "mbar", "Pa", "100")]
    [InlineData("1", "atm", "Pa", "101325")]
    [InlineData("1", "att", "Pa", "98066.5")]
    // the same, volume, viscosity, energy, angle, time
    [InlineData("1", "[gal_us]", "L", "3.785411784")]
    [InlineData("1", "[foz_us]", "mL", "29.5735295625")]
    [InlineData("1", "cP", "mPa.s", "1")]
    [InlineData("1", "W.h", "J", "3600")]
    [InlineData("1", "A.h", "C", "3600")]
    [InlineData("1", "gon", "deg", "0.9")]
    [InlineData("1", "circ", "deg", "360")]
    [InlineData("1", "d", "s", "86400")]
    [InlineData("1", "L/min", "mL/s", "16.666666666666666666666666667")]
    // UCUM 2.2, section 4.4, clinical units: metre of water and of mercury column
    [InlineData("1", "mm[Hg]", "Pa", "133.322")]
    [InlineData("1", "[in_i'H2O]", "Pa", "249.08891")]
    // a bore reamed to 11/32 inch for clearance is 8.73 mm (common practice, no source); 11 × 25.4 / 32
    [InlineData("0.34375", "[in_i]", "mm", "8.73125")]
    // pressure decay, Q = V·ΔP/t: 100 cm³ × 50 Pa / 10 s (from the definition)
    [InlineData("500", "cm3.Pa/s", "Pa.m3/s", "0.0005")]
    [InlineData("1", "mbar.L/s", "Pa.m3/s", "0.1")]
    // NIST SP 811, appendix B.8, temperature: t/°C = (t/°F − 32)/1.8; T/K = t/°C + 273.15
    [InlineData("212", "[degF]", "Cel", "100")]
    [InlineData("32", "[degF]", "Cel", "0")]
    [InlineData("-40", "[degF]", "Cel", "-40")]
    [InlineData("100", "Cel", "[degF]", "212")]
    [InlineData("0", "Cel", "K", "273.15")]
    [InlineData("0", "K", "[degF]", "-459.67")]
    [InlineData("98.6", "[degF]", "K", "310.15")]
    public void Exact_conversions_equal_the_published_ones(string value, string from, string to, string expected) =>
        Assert.Equal(Number(expected), Convert(value, from, to));

    // NIST SP 811 (2008), appendix B.8, with the digits printed there; π from UCUM.
    [Theory]
    [InlineData("1", "[psi]", "Pa", "6894.757293168", 9)]
    [InlineData("1", "[oz_av].[g].[in_i]", "N.m", "0.00706155181", 11)]
    [InlineData("450", "[degF]", "Cel", "232.22", 2)]
    [InlineData("1", "deg", "rad", "0.01745329251994329576923690768", 28)]
    [InlineData("1", "rad", "deg", "57.2957795130823208767981548", 25)]
    [InlineData("1", "[HP]", "W", "745.6999", 4)]
    public void Conversions_agree_with_the_published_digits(string value, string from, string to, string expected, int places) =>
        Assert.Equal(Number(expected), Math.Round(Convert(value, from, to), places));

    [Fact]
    public void A_value_keeps_its_digits_until_it_is_converted()
    {
        var torque = new Quantity(0.450m, UcumUnit.Parse("N.m"));

        Assert.Equal("0.450 N.m", torque.ToString());
        Assert.Equal("0.450 N.m", torque.ConvertTo(UcumUnit.Parse("N.m")).ToString());
        Assert.Equal("45 cN.m", torque.ConvertTo(UcumUnit.Parse("cN.m")).ToString());
    }

    [Theory]
    [InlineData("N.m", "mm"), InlineData("Cel", "Pa"), InlineData("deg", "1"), InlineData("{turn}", "deg"), InlineData("%", "s"), InlineData("kg.m", "N.m")]
    public void Another_dimension_is_refused_for_conversion_and_comparison(string from, string to)
    {
        var quantity = new Quantity(1m, UcumUnit.Parse(from));
        var target = UcumUnit.Parse(to);

        Assert.False(quantity.TryConvertTo(target, out _, out var fault));
        Assert.Equal(ConversionFault.DimensionMismatch, fault);
        Assert.False(quantity.TryCompareTo(new Quantity(1m, target), out var order));
        Assert.Equal(0, order);
        Assert.Throws<InvalidOperationException>(() => quantity.ConvertTo(target));
    }

    [Fact]
    public void A_dimension_fault_is_said_in_words() =>
        Assert.Equal(
            "'mm' measures length, but 'N.m' measures torque or energy.",
            new Quantity(1m, UcumUnit.Parse("mm")).DescribeFault(UcumUnit.Parse("N.m"), ConversionFault.DimensionMismatch));

    [Fact]
    public void Too_large_and_too_small_are_faults_and_zero_is_neither()
    {
        var kilometre = UcumUnit.Parse("km");
        var millimetre = UcumUnit.Parse("mm");

        Assert.False(new Quantity(decimal.MaxValue, kilometre).TryConvertTo(millimetre, out _, out var large));
        Assert.Equal(ConversionFault.TooLarge, large);
        Assert.False(new Quantity(1e-28m, millimetre).TryConvertTo(kilometre, out _, out var small));
        Assert.Equal(ConversionFault.TooSmall, small);
        Assert.True(new Quantity(0m, millimetre).TryConvertTo(kilometre, out var zero, out _));
        Assert.Equal(0m, zero.Value);
        Assert.True(new Quantity(decimal.MaxValue, millimetre).TryConvertTo(kilometre, out _, out _));
        Assert.True(new Quantity(decimal.MaxValue, millimetre).TryCompareTo(new Quantity(decimal.MinValue, kilometre), out var order));
        Assert.True(order > 0);
    }

    [Theory]
    [InlineData("8.73125", "mm", "0.34375", "[in_i]", 0)]
    [InlineData("8.7312500000000000000000001", "mm", "0.34375", "[in_i]", 1)]
    [InlineData("8.7312499999999999999999999", "mm", "0.34375", "[in_i]", -1)]
    [InlineData("37", "Cel", "98.6", "[degF]", 0)]
    [InlineData("37.0000000000000000000000001", "Cel", "98.6", "[degF]", 1)]
    [InlineData("232.22222222222222222222222222", "Cel", "450", "[degF]", -1)]
    [InlineData("0.1234567890123456789012345678", "Cel", "273.27345678901234567890123457", "K", -1)]
    [InlineData("0.1234567890123456789012345678", "[degF]", "459.79345678901234567890123457", "[degR]", -1)]
    [InlineData("0.3333333333333333333333333333", "min", "20", "s", -1)]
    [InlineData("20", "s", "0.3333333333333333333333333333", "min", 1)]
    [InlineData("1", "{turn}", "100", "%", 0)]
    [InlineData("1", "J", "1", "N.m", 0)]
    public void A_value_on_or_beside_a_limit_in_another_unit_is_told_apart(string value, string unit, string limit, string limitUnit, int expected)
    {
        var left = new Quantity(Number(value), UcumUnit.Parse(unit));
        var right = new Quantity(Number(limit), UcumUnit.Parse(limitUnit));

        Assert.True(left.TryCompareTo(right, out var order));
        Assert.Equal(expected, Math.Sign(order));
        Assert.True(right.TryCompareTo(left, out var reverse));
        Assert.Equal(-expected, Math.Sign(reverse));
    }

    [Fact]
    public void A_default_quantity_says_that_it_has_no_unit()
    {
        Assert.Throws<InvalidOperationException>(() => default(Quantity).Unit);
        Assert.Throws<ArgumentNullException>(() => new Quantity(1m, null!));
    }

    [Theory]
    [InlineData("0.45 N.m", "0.45 N.m"), InlineData("-12.50 Cel", "-12.50 Cel"), InlineData("3", "3 1"), InlineData("1.5e-3 m", "0.0015 m")]
    public void A_written_quantity_is_read(string text, string expected)
    {
        Assert.True(Quantity.TryParse(text, out var quantity, out var reason), reason);
        Assert.Equal(expected, quantity.ToString());
    }

    [Theory]
    [InlineData("0.45 Nm", "N.m"), InlineData("NaN m", "not a word"), InlineData("1  m", "UCUM"), InlineData("", "decimal number"), InlineData(null, "decimal number"), InlineData("m", "decimal number")]
    public void A_badly_written_quantity_is_refused_with_the_reason(string? text, string reasonPart)
    {
        Assert.False(Quantity.TryParse(text, out _, out var reason));
        Assert.Contains(reasonPart, reason, StringComparison.Ordinal);
    }

    [Fact]
    public void Conversion_and_comparison_allocate_nothing_once_the_units_are_known()
    {
        var reading = new Quantity(10.5m, UcumUnit.Parse("[lbf_av].[in_i]"));
        var limit = new Quantity(1.2m, UcumUnit.Parse("N.m"));
        var heat = new Quantity(450m, UcumUnit.Parse("[degF]"));
        var celsius = UcumUnit.Parse("Cel");
        Exercise(1);

        var before = GC.GetAllocatedBytesForCurrentThread();
        var converted = Exercise(1000);
        Assert.Equal(0, GC.GetAllocatedBytesForCurrentThread() - before);
        Assert.Equal(3000, converted);

        int Exercise(int times)
        {
            var done = 0;
            for (var i = 0; i < times; i++)
            {
                done += reading.TryConvertTo(limit.Unit, out _, out _) ? 1 : 0;
                done += heat.TryConvertTo(celsius, out _, out _) ? 1 : 0;
                done += reading.TryCompareTo(limit, out _) ? 1 : 0;
            }

            return done;
        }
    }

    private static decimal Convert(string value, string from, string to) =>
        new Quantity(Number(value), UcumUnit.Parse(from)).ConvertTo(UcumUnit.Parse(to)).Value;

    private static decimal Number(string text) => decimal.Parse(text, NumberStyles.Float, CultureInfo.InvariantCulture);
}
