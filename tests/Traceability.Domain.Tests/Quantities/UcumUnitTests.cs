using Traceability.Domain.Quantities;
using Xunit;

namespace Traceability.Domain.Tests.Quantities;

public sealed class UcumUnitTests
{
    // UCUM 2.2, sections 4.1 to 4.5: each code is built of symbols in those tables.
    [Theory]
    [InlineData("N.m", "L2.M.T-2"), InlineData("cN.m", "L2.M.T-2"), InlineData("mN.m", "L2.M.T-2"), InlineData("kgf.m", "L2.M.T-2")]
    [InlineData("[lbf_av].[in_i]", "L2.M.T-2"), InlineData("[lbf_av].[ft_i]", "L2.M.T-2"), InlineData("[oz_av].[g].[in_i]", "L2.M.T-2")]
    [InlineData("mm", "L"), InlineData("um", "L"), InlineData("cm", "L"), InlineData("m", "L"), InlineData("[in_i]", "L"), InlineData("[ft_i]", "L")]
    [InlineData("g", "M"), InlineData("mg", "M"), InlineData("kg", "M"), InlineData("[oz_av]", "M"), InlineData("[lb_av]", "M")]
    [InlineData("s", "T"), InlineData("min", "T"), InlineData("h", "T"), InlineData("d", "T"), InlineData("ms", "T")]
    [InlineData("Cel", "Theta"), InlineData("[degF]", "Theta"), InlineData("K", "Theta")]
    [InlineData("Pa", "L-1.M.T-2"), InlineData("kPa", "L-1.M.T-2"), InlineData("hPa", "L-1.M.T-2"), InlineData("MPa", "L-1.M.T-2")]
    [InlineData("mbar", "L-1.M.T-2"), InlineData("bar", "L-1.M.T-2"), InlineData("[psi]", "L-1.M.T-2"), InlineData("mm[Hg]", "L-1.M.T-2")]
    [InlineData("L", "L3"), InlineData("mL", "L3"), InlineData("uL", "L3"), InlineData("dL", "L3"), InlineData("cm3", "L3"), InlineData("m3", "L3")]
    [InlineData("V", "L2.M.T-3.I-1"), InlineData("mV", "L2.M.T-3.I-1"), InlineData("A", "I"), InlineData("mA", "I"), InlineData("uA", "I")]
    [InlineData("W", "L2.M.T-3"), InlineData("Ohm", "L2.M.T-3.I-2"), InlineData("kOhm", "L2.M.T-3.I-2"), InlineData("MOhm", "L2.M.T-3.I-2")]
    [InlineData("Hz", "T-1"), InlineData("kHz", "T-1"), InlineData("N", "L.M.T-2"), InlineData("kN", "L.M.T-2")]
    [InlineData("%", "1"), InlineData("1", "1"), InlineData("{pieces}", "1"), InlineData("{turn}", "1"), InlineData("10*-6", "1")]
    [InlineData("deg", "A"), InlineData("rad", "A"), InlineData("Pa.m3/s", "L2.M.T-3"), InlineData("mL/min", "L3.T-1"), InlineData("L/min", "L3.T-1")]
    [InlineData("g/mL", "L-3.M"), InlineData("kg/m3", "L-3.M"), InlineData("mm/s", "L.T-1"), InlineData("/min", "T-1")]
    [InlineData("A.h", "T.I"), InlineData("mA.h", "T.I"), InlineData("W.h", "L2.M.T-2"), InlineData("mPa.s", "L-1.M.T-1")]
    public void A_code_has_the_dimension_of_what_it_measures(string code, string dimension)
    {
        Assert.True(UcumUnit.TryParse(code, out var unit, out var reason), reason);
        Assert.Equal(dimension, unit.Dimension.ToString());
        Assert.Equal(code, unit.Code);
    }

    [Theory]
    [InlineData("Nm", "N.m"), InlineData("N·m", "N.m"), InlineData("N*m", "N.m"), InlineData("cNm", "cN.m"), InlineData("°C", "Cel"), InlineData("degC", "Cel")]
    [InlineData("°F", "[degF]"), InlineData("lbf.in", "[lbf_av].[in_i]"), InlineData("in-lb", "[lbf_av].[in_i]"), InlineData("ft.lb", "[lbf_av].[ft_i]")]
    [InlineData("ozf.in", "[oz_av].[g].[in_i]"), InlineData("[ozf_av].[in_i]", "[oz_av].[g].[in_i]"), InlineData("in", "[in_i]"), InlineData("ft", "[ft_i]")]
    [InlineData("µm", "um"), InlineData("kg/m³", "kg/m3"), InlineData("kΩ", "kOhm"), InlineData("mAh", "mA.h"), InlineData("psi", "[psi]"), InlineData("mL/hr", "mL/h")]
    [InlineData("mmHg", "mm[Hg]"), InlineData("in/sec", "[in_i]/s"), InlineData(" mm", "mm"), InlineData("pcs", "{pieces}"), InlineData("mCel", "Cel")]
    public void An_everyday_form_is_refused_and_the_code_is_suggested(string written, string meant)
    {
        Assert.False(UcumUnit.TryParse(written, out _, out var reason));
        Assert.Contains($"Did you mean '{meant}'?", reason, StringComparison.Ordinal);
        Assert.True(UcumUnit.TryParse(meant, out _));
    }

    // UCUM 2.2, exhibit 1 (grammar) and sections 2.1 to 2.3.
    [Theory]
    [InlineData("", "missing"), InlineData(null, "missing")]
    [InlineData("N..m", "starts no unit"), InlineData("N.", "ends"), InlineData("/", "ends"), InlineData(".m", "starts no unit"), InlineData("N m", "not a unit symbol")]
    [InlineData("kmin", "not a unit symbol"), InlineData("m[in_i]", "not a unit symbol"), InlineData("kkg", "not a unit symbol"), InlineData("k", "not a unit symbol")]
    [InlineData("m0", "exponent"), InlineData("m-", "exponent"), InlineData("m31", "exponent"), InlineData("m2-1", "not expected"), InlineData("2-1", "not expected")]
    [InlineData("0", "whole number"), InlineData("m/0", "whole number"), InlineData("1234567890", "whole number"), InlineData("1.5m", "not expected")]
    [InlineData("(m", "not closed"), InlineData("m)", "not expected"), InlineData("(m)2", "not expected"), InlineData("k(m)", "not a unit symbol")]
    [InlineData("{turn", "not closed"), InlineData("{a b}", "printable"), InlineData("{é}", "printable"), InlineData("{a{b}", "printable"), InlineData("{a}m", "not expected"), InlineData("[in_i", "not a unit symbol")]
    [InlineData("W/Cel", "stand alone"), InlineData("Cel.m", "stand alone"), InlineData("/Cel", "stand alone"), InlineData("2.Cel", "stand alone"), InlineData("Cel2", "no exponent"), InlineData("[degF]-1", "no exponent")]
    [InlineData("m12.m", "beyond"), InlineData("Ym30", "beyond"), InlineData("10*30.10*30.10*30.10*30.10*30.10*30", "beyond")]
    [InlineData("((((((((((m))))))))))", "nested")]
    public void What_the_grammar_does_not_allow_is_refused_with_a_reason(string? code, string reasonPart)
    {
        Assert.False(UcumUnit.TryParse(code, out _, out var reason));
        Assert.Contains(reasonPart, reason, StringComparison.Ordinal);
    }

    [Fact]
    public void A_code_longer_than_the_limit_is_refused_and_one_on_it_is_read()
    {
        var onLimit = "{" + new string('x', UcumUnit.LengthMax - 2) + "}";
        Assert.True(UcumUnit.TryParse(onLimit, out _));
        Assert.False(UcumUnit.TryParse("m" + onLimit, out _, out var reason));
        Assert.Contains("at most 64", reason, StringComparison.Ordinal);
    }

    [Fact]
    public void A_long_hostile_code_fails_quickly_for_want_of_a_unit_not_of_stack()
    {
        Assert.False(UcumUnit.TryParse(new string('(', 64), out _));
        Assert.False(UcumUnit.TryParse(new string('(', 1_000_000), out _));
    }

    // UCUM 2.2, section 2.2 §7: left to right; a leading solidus inverts only what follows it directly. §9: the prefix is raised too.
    [Theory]
    [InlineData("kg.m/s2", "N"), InlineData("m/s/s", "m/s2"), InlineData("J/s.m", "W.m"), InlineData("/s.m", "m/s"), InlineData("N.(m/s)", "W")]
    [InlineData("cm3", "mL"), InlineData("10*3.mm3", "mL"), InlineData("dm3", "l"), InlineData("s-1", "Hz"), InlineData("m+2", "m2"), InlineData("L{dry}", "L")]
    [InlineData("60.s", "min"), InlineData("V.A", "W"), InlineData("C/s", "A"), InlineData("{turn}/min", "/min"), InlineData("10*-2", "%"), InlineData("hPa", "mbar")]
    public void Terms_of_the_same_worth_convert_one_to_one(string left, string right) =>
        Assert.Equal(1m, new Quantity(1m, UcumUnit.Parse(left)).ConvertTo(UcumUnit.Parse(right)).Value);

    [Fact]
    public void Codes_are_equal_as_written_and_case_matters()
    {
        Assert.Equal(UcumUnit.Parse("N.m"), UcumUnit.Parse("N.m"));
        Assert.NotEqual(UcumUnit.Parse("N.m"), UcumUnit.Parse("J"));
        Assert.NotEqual(UcumUnit.Parse("mPa"), UcumUnit.Parse("MPa"));
        Assert.False(UcumUnit.TryParse("KPA", out _));
    }

    [Fact]
    public void More_codes_than_the_cache_holds_are_still_read_right()
    {
        for (var i = 1; i <= 5000; i++)
        {
            var code = FormattableString.Invariant($"{i}.mm");
            Assert.Equal(i / 1000m, new Quantity(1m, UcumUnit.Parse(code)).ConvertTo(UcumUnit.Parse("m")).Value);
        }
    }
}
