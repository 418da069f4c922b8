using System.Globalization;
using CsCheck;
using Traceability.Domain.Quantities;
using Xunit;

namespace Traceability.Domain.Tests.Quantities;

public sealed class RecordedValueTests
{
    // The form of a JSON number: RFC 8259, section 6.
    [Theory]
    [InlineData("0", "0"), InlineData("-0.450", "-0.450"), InlineData("1e3", "1000"), InlineData("1.5E-3", "0.0015"), InlineData("12e+1", "120")]
    [InlineData("1234567890123456789012345678", "1234567890123456789012345678")]
    [InlineData("0.1234567890123456789012345678", "0.1234567890123456789012345678")]
    [InlineData("9999999999999999999999999999", "9999999999999999999999999999")]
    [InlineData("1e27", "1000000000000000000000000000"), InlineData("0e999", "0"), InlineData("0.00000000000000000000000000001e1", "0.0000000000000000000000000001")]
    public void A_number_is_read_with_all_its_digits(string text, string expected)
    {
        Assert.True(RecordedValue.TryParse(text, out var value, out var reason), reason);
        Assert.Equal(expected, value.ToString(CultureInfo.InvariantCulture));
    }

    [Theory]
    [InlineData(""), InlineData("-"), InlineData("NaN"), InlineData("Infinity"), InlineData("-Infinity"), InlineData("1,5"), InlineData("1 000"), InlineData(" 1"), InlineData("1 ")]
    [InlineData("+1"), InlineData(".5"), InlineData("5."), InlineData("01"), InlineData("-01.5"), InlineData("1e"), InlineData("1e+"), InlineData("1e1.5"), InlineData("0x10"), InlineData("1/3"), InlineData("١"), InlineData("1e 1"), InlineData("1e1 "), InlineData("1\0")]
    public void What_is_no_decimal_number_is_refused(string text)
    {
        Assert.False(RecordedValue.TryParse(text, out _, out var reason));
        Assert.Contains("decimal number", reason, StringComparison.Ordinal);
    }

    [Theory]
    [InlineData("12345678901234567890123456789"), InlineData("0.12345678901234567890123456789"), InlineData("1.2345678901234567890123456789"), InlineData("1e28"), InlineData("1e-29"), InlineData("1e999"), InlineData("1e-999"), InlineData("10000000000000000000000000000")]
    public void A_number_that_would_lose_digits_is_refused_and_not_rounded(string text)
    {
        Assert.False(RecordedValue.TryParse(text, out _, out var reason));
        Assert.Contains("28 significant digits", reason, StringComparison.Ordinal);
    }

    [Fact]
    public void Every_decimal_of_up_to_28_digits_is_read_back_as_it_is_written()
    {
        // Half of the cases have 27, 28 or 29 digits: the limit and its neighbours.
        var digits = Gen.OneOf(Gen.Int[27, 29], Gen.Int[1, 29]);
        Gen.Select(digits, Gen.ULong, Gen.Byte[0, 28], Gen.Bool).Sample((count, seed, scale, negative) =>
        {
            var text = (seed.ToString(CultureInfo.InvariantCulture) + "7319428506193847561029384756")[..Math.Min(count, 19)].PadRight(count, '7').TrimStart('0').PadRight(count, '3');
            var number = System.Numerics.BigInteger.Parse(text, CultureInfo.InvariantCulture);
            if (number > (System.Numerics.BigInteger)decimal.MaxValue)
            {
                Assert.False(RecordedValue.TryParse(text, out _, out _));
                return;
            }

            var bits = decimal.GetBits((decimal)number);
            var value = new decimal(bits[0], bits[1], bits[2], negative, scale);
            var read = RecordedValue.TryParse(value.ToString(CultureInfo.InvariantCulture), out var back, out _);
            Assert.Equal(count <= RecordedValue.SignificantDigitsMax, read);
            Assert.True(!read || (back == value && back.Scale == value.Scale));
        }, iter: 20_000);
    }
}
