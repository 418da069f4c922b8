using System.Numerics;
using CsCheck;
using Traceability.Domain.Quantities;
using Xunit;

namespace Traceability.Domain.Tests.Quantities;

/// <summary>Against an oracle of its own: factors typed as whole-number ratios, arithmetic in BigInteger.</summary>
public sealed class QuantityPropertyTests
{
    private const int Cases = 20_000;

    // Worth of one unit in the first unit of its group, as numerator / denominator, from the exact constituents
    // (NIST SP 811, appendix B): in = 254/10 mm, lbf = 45359237 × 980665 / 10^13 N, min = 60 s.
    private static readonly (string Code, BigInteger Top, BigInteger Bottom)[][] Groups =
    [
        [("mm", 1, 1), ("um", 1, 1000), ("m", 1000, 1), ("km", 1_000_000, 1), ("[in_i]", 254, 10), ("[ft_i]", 3048, 10)],
        [
            ("N.m", 1, 1), ("cN.m", 1, 100), ("kgf.m", 980665, 100000),
            ("[lbf_av].[in_i]", new BigInteger(45359237) * 980665 * 254, BigInteger.Pow(10, 17)),
            ("[oz_av].[g].[in_i]", new BigInteger(45359237) * 980665 * 254, BigInteger.Pow(10, 17) * 16),
        ],
        [("s", 1, 1), ("ms", 1, 1000), ("min", 60, 1), ("h", 3600, 1), ("d", 86400, 1)],
        [("Pa", 1, 1), ("kPa", 1000, 1), ("bar", 100000, 1), ("[psi]", new BigInteger(45359237) * 980665 * 100000000, BigInteger.Pow(10, 13) * 254 * 254)],
    ];

    // A decimal of any size and scale, or a short one as tools report it.
    private static readonly Gen<decimal> Value = Gen.OneOf(
        Gen.Select(Gen.Int, Gen.Int[0, 6]).Select((digits, scale) => digits / Power(scale)),
        Gen.Select(Gen.Int, Gen.Int, Gen.Int, Gen.Bool, Gen.Byte[0, 28]).Select((lo, mid, hi, negative, scale) => new decimal(lo, mid, hi, negative, scale)));

    private static readonly Gen<((string Code, BigInteger Top, BigInteger Bottom) From, (string Code, BigInteger Top, BigInteger Bottom) To)> Pair =
        Gen.OneOf(Groups).SelectMany(group => Gen.Select(Gen.OneOf(group), Gen.OneOf(group)));

    [Fact]
    public void A_conversion_is_the_nearest_decimal_to_the_exact_result() =>
        Gen.Select(Value, Pair).Sample((value, pair) =>
        {
            var (top, bottom) = Exact(value, pair.From, pair.To);
            var converted = new Quantity(value, UcumUnit.Parse(pair.From.Code)).TryConvertTo(UcumUnit.Parse(pair.To.Code), out var result, out var fault);
            if (!converted)
            {
                var tooLarge = BigInteger.Abs(top) * 2 > ((BigInteger)decimal.MaxValue * 2 + 1) * bottom;
                var tooSmall = !top.IsZero && BigInteger.Abs(top) * BigInteger.Pow(10, 28) * 2 <= bottom;
                Assert.Equal(tooLarge ? ConversionFault.TooLarge : ConversionFault.TooSmall, fault);
                Assert.True(tooLarge || tooSmall);
                return;
            }

            // |result − exact| ≤ half a unit of the last place that a decimal of this size can have.
            var (mantissa, scale) = Split(result.Value);
            var error = BigInteger.Abs((mantissa * bottom) - (top * BigInteger.Pow(10, scale)));
            var places = 28;
            while (places > 0 && BigInteger.Abs(mantissa) * BigInteger.Pow(10, places) > (BigInteger)decimal.MaxValue * BigInteger.Pow(10, scale))
            {
                places--;
            }

            Assert.True(error * 2 * BigInteger.Pow(10, places) <= bottom * BigInteger.Pow(10, scale), $"{value} {pair.From.Code} -> {result}");
        }, iter: Cases);

    [Fact]
    public void An_exact_conversion_comes_back_to_the_same_value() =>
        Gen.Select(Gen.Int, Gen.Int[0, 6], Pair).Sample((digits, scale, pair) =>
        {
            var start = new Quantity(digits / Power(scale), UcumUnit.Parse(pair.From.Code));
            var there = start.ConvertTo(UcumUnit.Parse(pair.To.Code));
            Assert.True(there.TryCompareTo(start, out var order));
            if (order == 0)
            {
                Assert.Equal(start.Value, there.ConvertTo(start.Unit).Value);
            }
            else
            {
                // Not representable: half a last place (the 28th digit or the 28th place), there and back.
                var ratio = (double)(pair.To.Top * pair.From.Bottom) / (double)(pair.To.Bottom * pair.From.Top);
                var error = (double)Math.Abs(there.ConvertTo(start.Unit).Value - start.Value);
                Assert.True(error <= ((double)Math.Abs(start.Value) * 1e-27) + (1e-28 * ratio) + 1e-28);
            }
        }, iter: Cases);

    [Fact]
    public void The_sum_converts_to_the_sum_where_both_are_exact() =>
        Gen.Select(Gen.Int[-1_000_000, 1_000_000], Gen.Int[-1_000_000, 1_000_000]).Sample((a, b) =>
        {
            foreach (var (from, to) in new[] { ("[in_i]", "mm"), ("[lbf_av].[in_i]", "N.m"), ("bar", "Pa"), ("h", "s") })
            {
                decimal In(decimal value) => new Quantity(value, UcumUnit.Parse(from)).ConvertTo(UcumUnit.Parse(to)).Value;
                Assert.Equal(In(a / 1000m) + In(b / 1000m), In((a + b) / 1000m));
            }
        }, iter: Cases);

    [Fact]
    public void Comparison_across_units_agrees_with_exact_arithmetic_on_and_beside_the_limit() =>
        Gen.Select(Gen.Int, Gen.Int[0, 6], Pair, Gen.Int[-1, 1], Gen.Bool, Gen.Int).Sample((digits, scale, pair, step, near, other) =>
        {
            var limit = new Quantity(digits / Power(scale), UcumUnit.Parse(pair.To.Code));

            // Half of the cases are the limit itself in the other unit, or one last digit beside it.
            var value = near
                ? limit.ConvertTo(UcumUnit.Parse(pair.From.Code)).Value + (step * 1e-12m)
                : other / Power(scale);
            var (top, bottom) = Exact(value, pair.From, pair.To);
            var (mantissa, limitScale) = Split(limit.Value);
            var expected = (top * BigInteger.Pow(10, limitScale)).CompareTo(mantissa * bottom);

            Assert.True(new Quantity(value, UcumUnit.Parse(pair.From.Code)).TryCompareTo(limit, out var order));
            Assert.Equal(Math.Sign(expected), Math.Sign(order));
        }, iter: Cases);

    [Fact]
    public void Temperatures_follow_the_defining_formula_on_all_three_scales() =>
        Gen.Int[-45967, 1_000_000].Sample(hundredths =>
        {
            var fahrenheit = hundredths / 100m;
            var reading = new Quantity(fahrenheit, UcumUnit.Parse("[degF]"));

            // NIST SP 811, appendix B.8: T/K = (t/°F + 459.67)/1.8.
            Assert.Equal(Math.Round((fahrenheit + 459.67m) / 1.8m, 24), Math.Round(reading.ConvertTo(UcumUnit.Parse("K")).Value, 24));
            Assert.Equal(Math.Round((fahrenheit - 32m) / 1.8m, 24), Math.Round(reading.ConvertTo(UcumUnit.Parse("Cel")).Value, 24));

            var celsius = new Quantity(fahrenheit, UcumUnit.Parse("Cel"));
            Assert.Equal((fahrenheit * 1.8m) + 32m, celsius.ConvertTo(UcumUnit.Parse("[degF]")).Value);
        }, iter: Cases);

    [Fact]
    public void Any_text_is_either_a_unit_or_a_reason_and_never_an_exception() =>
        Gen.OneOf(
            Gen.String[Gen.OneOf("NmkgsPaCel[]_in/.(){}0123456789+-*^%'".ToCharArray()), 0, 24],
            Gen.String[0, 70]).Sample(text =>
        {
            var read = UcumUnit.TryParse(text, out var unit, out var reason);
            Assert.Equal(read, unit is not null);
            Assert.Equal(!read, reason is not null);
            Assert.True(!read || (unit!.Code == text && UcumUnit.Parse(text).Equals(unit)));
        }, iter: Cases);

    private static decimal Power(int scale) => (decimal)BigInteger.Pow(10, scale);

    private static (BigInteger Top, BigInteger Bottom) Exact(
        decimal value,
        (string Code, BigInteger Top, BigInteger Bottom) from,
        (string Code, BigInteger Top, BigInteger Bottom) to)
    {
        var (mantissa, scale) = Split(value);
        return (mantissa * from.Top * to.Bottom, BigInteger.Pow(10, scale) * from.Bottom * to.Top);
    }

    private static (BigInteger Mantissa, int Scale) Split(decimal value)
    {
        var bits = decimal.GetBits(value);
        var mantissa = (new BigInteger((uint)bits[2]) << 64) | (new BigInteger((uint)bits[1]) << 32) | (uint)bits[0];
        return (value < 0 ? -mantissa : mantissa, value.Scale);
    }
}
