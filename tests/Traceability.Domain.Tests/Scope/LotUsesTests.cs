using Traceability.Domain.Scope;
using Xunit;

namespace Traceability.Domain.Tests.Scope;

/// <summary>What uses say for a lot's balance; worked out by hand.</summary>
public sealed class LotUsesTests
{
    private static readonly DateTimeOffset Noon = new(2026, 3, 2, 12, 0, 0, TimeSpan.Zero);

    private static readonly UsageRow[] Rows =
    [
        Use("A/1", "2 g", minute: 0),
        Use("A/1", "1 g", minute: 1),
        Use("A/2", "1 g", minute: 2),
        Use("A/2", "2 g", minute: 3),
        Use("A/3", "2 g", minute: 4),
        Use("A/4", "2 g", minute: 10),
        Use("A/5", null, minute: 5),
        Use("A/6", "2 g", minute: 5) with { IsOneOf = true },
        Use("A/7", null, minute: 0) with { Step = null },
        Use("A/8", "2 g", minute: 20),
    ];

    [Fact]
    public void Uses_until_a_moment_count_as_one_where_they_say_the_same_and_those_that_may_have_been_later_are_unsure() =>
        Assert.Equal(
            [("1 g", false, 2), ("2 g", false, 3), ("2 g", true, 2), (null, false, 1)],
            LotUses.Until(Rows, Noon.AddMinutes(11))
                .Select(u => (u.Quantity?.ToString(), u.IsUnsure, u.Count)).OrderBy(u => u.Item1 ?? "~", StringComparer.Ordinal).ThenBy(u => u.IsUnsure));

    [Fact]
    public void Units_that_used_the_same_count_as_one_and_those_that_do_not_say_are_left_out() =>
        Assert.Equal(
            [("1 g 2 g", 2), ("2 g", 3)],
            LotUses.PerUnit(Rows).Select(u => (string.Join(' ', u.Quantities), u.Units)).OrderBy(u => u.Item1, StringComparer.Ordinal));

    [Fact]
    public void A_use_without_quantity_is_counted_and_a_piece_of_the_lot_is_not() => Assert.Equal(1, LotUses.CountWithoutQuantity(Rows));

    // From the minute on, two minutes long.
    private static UsageRow Use(string unit, string? quantity, int minute) =>
        new(unit, minute, null, IsOneOf: false, "S", Noon.AddMinutes(minute), Noon.AddMinutes(minute + 2), null, quantity);
}
