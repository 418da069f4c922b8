using CsCheck;
using Traceability.Domain.Scope;
using Xunit;

namespace Traceability.Domain.Tests.Scope;

public sealed class UnitOrderTests
{
    // Items that begin alike, serials that share a long beginning or are each other's, and characters of more than a byte.
    private static readonly string[] Items = ["A", "A-1", "A-10", "A.1", "B", "a"];
    private static readonly string[] Begins = [string.Empty, "SN-2026-0000", "\u0416"];

    private static readonly Gen<string> Unit = Gen.Select(
        Gen.Int[0, Items.Length - 1],
        Gen.Int[0, Begins.Length - 1],
        Gen.String[Gen.Char["0019-AZz\u00e9\u0416"], 0, 10],
        (item, begin, rest) => $"{Items[item]}/{Begins[begin]}{rest}");

    [Fact]
    public void Names_are_ordered_as_one_by_one_comparison_orders_them() =>
        Unit.Array[0, 60].Sample(
            names =>
            {
                string[] sorted = [.. names];
                UnitOrder.Sort(sorted, static n => n);
                Assert.Equal(names.Order(StringComparer.Ordinal), sorted, StringComparer.Ordinal);
            },
            iter: 20_000);
}
