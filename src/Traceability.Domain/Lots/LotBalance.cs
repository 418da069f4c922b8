using System.Numerics;
using Traceability.Domain.Facts;
using Traceability.Domain.Judging;
using Traceability.Domain.Primitives;
using Traceability.Domain.Quantities;
using Traceability.Domain.Routings;

namespace Traceability.Domain.Lots;

/// <summary>Material that was taken out of a lot for another one.</summary>
/// <param name="Into">The other lot.</param>
/// <param name="At">When.</param>
/// <param name="Quantity">How much; null: nobody said.</param>
public sealed record LotDraw(LotKey Into, DateTimeOffset At, EnteredQuantity? Quantity);

/// <summary>Uses of a lot on units that say the same.</summary>
/// <param name="Quantity">How much each used; null: nobody said.</param>
/// <param name="IsUnsure">Whether it isn't sure that they used this lot (one of several), or used it by the time of the balance.</param>
/// <param name="Count">How many they are.</param>
public sealed record LotUse(EnteredQuantity? Quantity, bool IsUnsure, int Count);

/// <summary>What went into a lot, what left it by record, and what that leaves unexplained, as of the moment that somebody said what is there.</summary>
/// <remarks>
/// received + merged in + corrections − split off − discarded − used − on hand = unexplained: conservation of mass, no more. All
/// terms are of the lot's life until <see cref="AsOf"/>, the last count of the whole lot or its end. A term that can't be computed is
/// null and has its reason among <see cref="Obstacles"/>; then so is what follows from it. Quantities are converted exactly.
/// </remarks>
/// <param name="AsOf">The last count of the whole lot, or when it was emptied; null if there was neither.</param>
/// <param name="Unit">The unit of all terms, a UCUM code: that of the first quantity recorded; null if there is none.</param>
/// <param name="Received">What was received.</param>
/// <param name="MergedIn">What came out of other lots.</param>
/// <param name="Corrected">What counts booked in, less what they booked out.</param>
/// <param name="SplitOff">What was taken out for other lots.</param>
/// <param name="Discarded">What was thrown away by record.</param>
/// <param name="UsedLeast">What was surely used on units.</param>
/// <param name="UsedMost">What was at most used on units: the surely used, and that of which it isn't sure.</param>
/// <param name="OnHand">What is there.</param>
/// <param name="LeastPerUnit">The least that a unit takes, by the released routings; null if that isn't known.</param>
/// <param name="Obstacles">Why something can't be computed, for a person.</param>
public sealed record LotBalance(
    DateTimeOffset? AsOf,
    string? Unit,
    decimal? Received,
    decimal? MergedIn,
    decimal? Corrected,
    decimal? SplitOff,
    decimal? Discarded,
    decimal? UsedLeast,
    decimal? UsedMost,
    decimal? OnHand,
    EnteredQuantity? LeastPerUnit,
    ImmutableArray<string> Obstacles)
{
    /// <summary>The least that is unexplained; below zero where more left by record than came in.</summary>
    public decimal? UnexplainedLeast => Unexplained(UsedMost);

    /// <summary>The most that is unexplained.</summary>
    public decimal? UnexplainedMost => Unexplained(UsedLeast);

    /// <summary>How many units the unexplained could be, at most; null if that isn't known.</summary>
    public long? UnitsMost
    {
        get
        {
            if (UnexplainedMost is not { } unexplained || LeastPerUnit is not { Value: > 0 } least || !Values.TryConvert(least.Value, least.Unit, Unit, out var each) || each <= 0)
            {
                return null;
            }

            var units = Ratio.Of(Math.Max(0m, unexplained)) / Ratio.Of(each);
            return (long)BigInteger.Min(long.MaxValue, units.Numerator / units.Denominator);
        }
    }

    /// <summary>The last moment at which what is there is recorded for the whole lot; null if there is none.</summary>
    public static DateTimeOffset? MomentOf(Lot lot)
    {
        ArgumentNullException.ThrowIfNull(lot);
        return Statement(lot)?.At;
    }

    /// <summary>Computes it.</summary>
    /// <param name="lot">The lot.</param>
    /// <param name="draws">What was taken out of it for other lots, at any time.</param>
    /// <param name="uses">Its uses on units, those until <see cref="MomentOf"/> only.</param>
    /// <param name="leastPerUnit">See <see cref="LeastOf"/>.</param>
    public static LotBalance Of(Lot lot, IReadOnlyCollection<LotDraw> draws, IReadOnlyCollection<LotUse> uses, EnteredQuantity? leastPerUnit)
    {
        ArgumentNullException.ThrowIfNull(lot);
        ArgumentNullException.ThrowIfNull(draws);
        ArgumentNullException.ThrowIfNull(uses);
        var statement = Statement(lot);
        var until = statement?.At ?? DateTimeOffset.MaxValue;
        Fact[] facts = [.. lot.Standing().Where(f => f.At <= until).Select(f => f.Fact)];
        var sum = new Summing(lot, facts);
        var inflows = facts.OfType<ILotInflow>().SelectMany(Lot.SourcesOf).Select(s => s.Quantity).ToArray();
        EnteredQuantity?[] left = [.. draws.Where(d => d.At <= until).Select(d => d.Quantity)];
        var gain = sum.Of(facts.OfType<StockCounted>().Select(c => c.Gain).Where(q => q is not null), "booked in");
        var loss = sum.Of(facts.OfType<StockCounted>().Select(c => c.Loss).Where(q => q is not null), "booked out");
        var surely = sum.OfUses(uses.Where(u => !u.IsUnsure));
        var perhaps = sum.OfUses(uses.Where(u => u.IsUnsure));
        return new(
            statement?.At,
            sum.Unit,
            sum.Of(lot.Received is { } received ? [received.Quantity] : [], "received"),
            sum.Of(inflows, "merged in or split into this lot"),
            gain - loss,
            sum.Of(left, "split off"),
            sum.Of(facts.Select(Discard).Where(q => q is not null), "thrown away"),
            surely,
            surely + perhaps,
            statement is null ? sum.NotCounted() : statement.Fact is StockCounted counted ? sum.Of([counted.Quantity], "counted") : 0m,
            leastPerUnit,
            [.. sum.Obstacles]);
    }

    /// <summary>The least that a unit takes of an item, over all requirements that accept it; null if one of them doesn't say, or none accepts it.</summary>
    public static EnteredQuantity? LeastOf(ItemNumber item, IEnumerable<RoutingRevision> released)
    {
        EnteredQuantity? least = null;
        foreach (var requirement in released.SelectMany(r => r.Steps.OrEmpty()).SelectMany(s => s.Materials.OrEmpty()))
        {
            if (requirement.Item != item && !requirement.Alternatives.OrEmpty().Contains(item))
            {
                continue;
            }

            if (requirement.QuantityMin is not { Value: > 0 } min)
            {
                return null;
            }

            if (least is not { } known)
            {
                least = min;
            }
            else if (!Values.TryCompare(min.Value, min.Unit, known.Value, known.Unit, out var order))
            {
                return null;
            }
            else
            {
                least = order < 0 ? min : known;
            }
        }

        return least;
    }

    private static EffectiveFact? Statement(Lot lot) =>
        lot.Standing().LastOrDefault(f => f.Fact is LotEmptied or StockCounted { Container: null });

    private static EnteredQuantity? Discard(Fact fact) => fact switch
    {
        ContainerEmptied c => c.Discarded,
        LotEmptied l => l.Discarded,
        _ => null,
    };

    private decimal? Unexplained(decimal? used) => Summing.Add(Received, MergedIn, Corrected, -SplitOff, -Discarded, -used, -OnHand);

    /// <summary>Adds quantities in one unit, and says what stands in the way.</summary>
    private sealed class Summing(Lot lot, Fact[] facts)
    {
        public string? Unit { get; } = facts.SelectMany(Quantities).FirstOrDefault(q => q is not null)?.Unit;

        public List<string> Obstacles { get; } = [];

        public static decimal? Add(params ReadOnlySpan<decimal?> terms)
        {
            var sum = 0m;
            foreach (var term in terms)
            {
                if (term is not { } value || !Values.TryAdd(sum, value, out sum))
                {
                    return null;
                }
            }

            return sum;
        }

        public decimal? Of(IEnumerable<EnteredQuantity?> quantities, string what)
        {
            var sum = 0m;
            var missing = 0;
            foreach (var quantity in quantities)
            {
                if (quantity is not { } q)
                {
                    missing++;
                }
                else if (!Values.TryConvert(q.Value, q.Unit, Unit, out var value) || !Values.TryAdd(sum, value, out sum))
                {
                    Obstacles.Add($"{q} ({what}) can't be added up in {Unit ?? "any unit: the lot has no quantity of its own"}.");
                    return null;
                }
            }

            if (missing > 0)
            {
                Obstacles.Add($"{Say.Number(missing)} times, how much of lot {lot.Key} was {what} is not recorded.");
                return null;
            }

            return sum;
        }

        public decimal? OfUses(IEnumerable<LotUse> uses)
        {
            var sum = 0m;
            foreach (var use in uses.OrderBy(u => u.Quantity is null ? 0 : 1))
            {
                if (use.Quantity is not { } q)
                {
                    Obstacles.Add($"{Say.Number(use.Count)} uses {(use.IsUnsure ? "that may be " : string.Empty)}of lot {lot.Key} say no quantity.");
                    return null;
                }

                if (!Values.TryConvert(q.Value, q.Unit, Unit, out var value) || !Values.TryMultiply(value, use.Count, out var product) || !Values.TryAdd(sum, product, out sum))
                {
                    Obstacles.Add($"{q} (used) can't be added up in {Unit ?? "any unit: the lot has no quantity of its own"}.");
                    return null;
                }
            }

            return sum;
        }

        public decimal? NotCounted()
        {
            Obstacles.Add(facts.OfType<StockCounted>().Any()
                ? $"Only containers of lot {lot.Key} were counted, never the whole lot, so what is there is not known."
                : $"Lot {lot.Key} was never counted and is not emptied, so what is there is not known.");
            return null;
        }

        private static IEnumerable<EnteredQuantity?> Quantities(Fact fact) => fact switch
        {
            LotReceived r => [r.Quantity],
            ILotInflow i => Lot.SourcesOf(i).Select(s => s.Quantity),
            StockCounted c => [c.Quantity],
            _ => [],
        };
    }
}
