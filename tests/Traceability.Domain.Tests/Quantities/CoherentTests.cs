using System.Globalization;
using CsCheck;
using Traceability.Domain.Quantities;
using Xunit;

namespace Traceability.Domain.Tests.Quantities;

/// <summary>Values as one number that a database can order.</summary>
public sealed class CoherentTests
{
    // NIST SP 811 (2008), appendix B.8: exact where the source prints bold, else to the digits that it gives.
    [Theory]
    [InlineData("1 [in_i]", 0.0254, 0)]
    [InlineData("1 [lbf_av]", 4.448222, 1e-6)]
    [InlineData("1 [lbf_av].[in_i]", 0.1129848, 1e-7)]
    [InlineData("1 [psi]", 6894.757, 1e-3)]
    [InlineData("1 mbar", 100, 0)]
    [InlineData("1 min", 60, 0)]
    [InlineData("180 deg", Math.PI, 0)]
    [InlineData("20 Cel", 293.15, 0)]
    [InlineData("-40 [degF]", 233.15, 0)]
    [InlineData("1.1 N.m", 1.1, 0)]
    [InlineData("110 cN.m", 1.1, 0)]
    [InlineData("250 mg", 0.00025, 0)]
    [InlineData("0 kg", 0, 0)]
    [InlineData("50 %", 0.5, 0)]
    public void A_value_in_the_coherent_unit(string entered, double expected, double within)
    {
        Assert.True(Quantity.TryParse(entered, out var quantity, out var reason), reason);
        Assert.InRange(quantity.ToCoherent(), expected - within, expected + within);
    }

    [Fact]
    public void A_difference_on_a_scale_has_no_zero_of_its_own() => Assert.Equal((0.5, 0.0005), (UcumUnit.Parse("Cel").ToCoherentDifference(0.5m), UcumUnit.Parse("g").ToCoherentDifference(0.5m)));

    // The runtime reads decimal digits as the nearest double (IEEE 754-2019, 5.12.2).
    [Fact]
    public void The_nearest_double_is_the_one_that_the_digits_read_as() =>
        Gen.Decimal.Sample(value => Assert.Equal(
            double.Parse(value.ToString(CultureInfo.InvariantCulture), CultureInfo.InvariantCulture),
            new Quantity(value, UcumUnit.One).ToCoherent()));

    [Fact]
    public void The_order_of_quantities_is_that_of_their_numbers()
    {
        string[] units = ["N.m", "cN.m", "[lbf_av].[in_i]", "J"];
        var quantity =
            from unit in Gen.Int[0, units.Length - 1]
            from value in Gen.OneOf(Gen.Int[-300, 300].Select(v => v / 100m), Gen.Decimal[-1e6m, 1e6m])
            select new Quantity(value, UcumUnit.Parse(units[unit]));
        Gen.Select(quantity, quantity).Sample((a, b) =>
        {
            Assert.True(a.TryCompareTo(b, out var order));
            var byNumber = a.ToCoherent().CompareTo(b.ToCoherent());
            Assert.True(order == 0 ? byNumber == 0 : byNumber == 0 || Math.Sign(order) == Math.Sign(byNumber), $"{a} {b}");
        });
    }
}
