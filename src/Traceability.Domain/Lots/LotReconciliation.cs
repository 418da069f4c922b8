using System.Globalization;
using Traceability.Domain.Judging;
using Traceability.Domain.Primitives;
using Traceability.Domain.Quantities;

namespace Traceability.Domain.Lots;

/// <summary>Units that used the same of a lot by record.</summary>
/// <param name="Quantities">What each of their uses took.</param>
/// <param name="Units">How many units they are.</param>
public sealed record LotUseOfUnit(ImmutableArray<EnteredQuantity> Quantities, int Units);

/// <summary>What a unit takes of a lot by the records that say a quantity, in the unit of the balance.</summary>
/// <param name="Units">How many units have such records.</param>
/// <param name="Least">The least that one took; above zero.</param>
/// <param name="Typical">The median; of an even number the lower of the two in the middle.</param>
/// <param name="Most">The most that one took.</param>
public sealed record LotUsePerUnit(int Units, decimal Least, decimal Typical, decimal Most)
{
    /// <summary>Computes it; null if no record says a quantity above zero that can be converted.</summary>
    /// <param name="uses">The units' uses.</param>
    /// <param name="unit">UCUM code of the balance; null: there is none.</param>
    public static LotUsePerUnit? Of(IEnumerable<LotUseOfUnit> uses, string? unit)
    {
        ArgumentNullException.ThrowIfNull(uses);
        var takes = new List<(decimal Value, int Units)>();
        foreach (var use in uses)
        {
            if (Sum(use.Quantities, unit) is > 0 and { } sum)
            {
                takes.Add((sum, use.Units));
            }
        }

        if (takes.Count == 0)
        {
            return null;
        }

        takes.Sort(static (a, b) => a.Value.CompareTo(b.Value));
        var count = takes.Sum(t => t.Units);
        var middle = (count + 1) / 2;
        var typical = takes[0].Value;
        foreach (var (value, units) in takes)
        {
            typical = value;
            middle -= units;
            if (middle <= 0)
            {
                break;
            }
        }

        return new(count, takes[0].Value, typical, takes[^1].Value);
    }

    private static decimal? Sum(ImmutableArray<EnteredQuantity> quantities, string? unit)
    {
        var sum = 0m;
        foreach (var quantity in quantities)
        {
            if (!Values.TryConvert(quantity.Value, quantity.Unit, unit, out var value) || !Values.TryAdd(sum, value, out sum))
            {
                return null;
            }
        }

        return sum;
    }
}

/// <summary>Why a lot's scope may be, or is, incomplete.</summary>
/// <param name="Code">Stable kebab-case code.</param>
/// <param name="Detail">In words.</param>
public sealed record LotWarning(string Code, string Detail);

/// <summary>A lot's mass balance beside its scope: where what is unexplained could have gone.</summary>
/// <remarks>
/// What is unexplained may be in units whose record of it is missing, which the scope lists as possible; or in units outside the scope;
/// or it was lost without record. The balance can't tell which. It can tell that the first alone doesn't explain it.
/// </remarks>
/// <param name="Lot">The lot.</param>
/// <param name="Balance">The balance.</param>
/// <param name="PerUnit">What a unit takes by record; null if that can't be told.</param>
/// <param name="Scope">What the scope found.</param>
public sealed record LotReconciliation(LotKey Lot, LotBalance Balance, LotUsePerUnit? PerUnit, LotScopeCounts Scope)
{
    /// <summary>More is unexplained than the possible members could have taken.</summary>
    public const string BeyondScope = "unexplained-beyond-scope";

    /// <summary>More left the lot by record than came in.</summary>
    public const string Overdrawn = "more-left-than-came-in";

    /// <summary>The lot was never received or made of others.</summary>
    public const string NeverReceived = "never-received";

    /// <summary>Something that touches the scope can't be read.</summary>
    public const string Unreadable = "unreadable";

    /// <summary>Uses say no quantity.</summary>
    public const string WithoutQuantity = "uses-without-quantity";

    /// <summary>The balance can't be computed.</summary>
    public const string NotBalanced = "not-balanced";

    /// <summary>The least that a unit takes, in the balance's unit: by the released routings, else by the records; null if neither tells.</summary>
    public decimal? LeastPerUnit =>
        Balance.LeastPerUnit is { Value: > 0 } least && Values.TryConvert(least.Value, least.Unit, Balance.Unit, out var value) && value > 0
            ? value
            : PerUnit?.Least;

    /// <summary>Whether <see cref="LeastPerUnit"/> is by the released routings; else by the records, or not known.</summary>
    public bool IsByRouting => Balance.UnitsMost is not null;

    /// <summary>How many units the unexplained could be in at most, each taking the least; null if that can't be told.</summary>
    public long? UnitsMost => Balance.UnitsMost ?? UnitsOf(PerUnit?.Least);

    /// <summary>How many units it could be in, each taking what is typical by record; null if that can't be told.</summary>
    public long? UnitsTypical => UnitsOf(PerUnit?.Typical);

    /// <summary>The most that the units with a missing record could have taken, each as much as any unit did by record; null if that can't be told.</summary>
    public decimal? CapacityMost =>
        Scope.OpenUnits == 0 ? 0m : PerUnit is { } take && Values.TryMultiply(take.Most, Scope.OpenUnits, out var most) ? most : null;

    /// <summary>What of the unexplained is beyond that, at the least; zero if nothing is; null if that can't be told.</summary>
    public decimal? BeyondLeast => Beyond(Balance.UnexplainedLeast);

    /// <summary>The same at the most.</summary>
    public decimal? BeyondMost => Beyond(Balance.UnexplainedMost);

    /// <summary>What stands against taking the scope as complete; empty if the balance has nothing against it.</summary>
    public ImmutableArray<LotWarning> Warnings()
    {
        var warnings = ImmutableArray.CreateBuilder<LotWarning>();
        if (!Scope.IsReceived)
        {
            warnings.Add(new(NeverReceived, $"Lot {Lot} was never received here, so what there was of it isn't known and nothing can be balanced."));
        }

        if (Scope.IsLotUnreadable || Scope.UnreadableUnits > 0)
        {
            warnings.Add(new(Unreadable, Scope.IsLotUnreadable
                ? $"A stored fact about lot {Lot} can't be read: the balance and the scope may be wrong."
                : string.Create(CultureInfo.InvariantCulture, $"{Scope.UnreadableUnits} units are touched by something that can't be read: what they used may be missing from the balance.")));
        }

        if (Scope.UsesWithoutQuantity > 0)
        {
            warnings.Add(new(WithoutQuantity, string.Create(
                CultureInfo.InvariantCulture, $"{Scope.UsesWithoutQuantity} uses of lot {Lot} say no quantity, so what was used isn't known.")));
        }

        if (Balance.UnexplainedMost is not { } unexplained)
        {
            warnings.Add(new(NotBalanced, $"What of lot {Lot} is unexplained can't be told. {string.Join(' ', Balance.Obstacles)}".TrimEnd()));
        }
        else if (unexplained < 0)
        {
            warnings.Add(new(Overdrawn, $"{Quantity(-unexplained)} more left lot {Lot} by record than came in: a quantity is wrong, or a unit names the lot that used another one."));
        }
        else if (CountsBeyond() is { } beyond)
        {
            warnings.Add(beyond);
        }

        return warnings.DrainToImmutable();
    }

    // Less than a unit takes can't be in a further unit.
    private LotWarning? CountsBeyond()
    {
        var surely = BeyondLeast >= LeastPerUnit || (BeyondLeast > 0 && LeastPerUnit is null);
        var perhaps = BeyondMost >= LeastPerUnit || (BeyondMost > 0 && LeastPerUnit is null);
        if (!surely && !perhaps)
        {
            return null;
        }

        var open = Scope.OpenUnits == 0
            ? "no unit has a missing record that the lot could have filled"
            : string.Create(CultureInfo.InvariantCulture, $"the {Scope.OpenUnits} units with a missing record could have taken {Quantity(CapacityMost!.Value)} at most, each as much as any unit did by record");
        var units = UnitsMost is { } most
            ? string.Create(CultureInfo.InvariantCulture, $" That is enough for {most} units at {Quantity(LeastPerUnit!.Value)} each, the least {(IsByRouting ? "by the released routings" : "by record")}.")
            : string.Empty;
        return new(
            BeyondScope,
            $"{(surely ? string.Empty : "Up to ")}{Quantity((surely ? Balance.UnexplainedLeast : Balance.UnexplainedMost)!.Value)} of lot {Lot} is unexplained, and {open}.{units} "
            + "The rest was lost without record, or is in units that the scope does not list: it can't be taken as complete.");
    }

    private decimal? Beyond(decimal? unexplained) =>
        unexplained is { } value && CapacityMost is { } capacity && Values.TryAdd(value, -capacity, out var beyond) ? Math.Max(0m, beyond) : null;

    private long? UnitsOf(decimal? each)
    {
        if (Balance.UnexplainedMost is not { } unexplained || each is not > 0)
        {
            return null;
        }

        var units = Ratio.Of(Math.Max(0m, unexplained)) / Ratio.Of(each.Value);
        return (long)System.Numerics.BigInteger.Min(long.MaxValue, units.Numerator / units.Denominator);
    }

    private string Quantity(decimal value) => Say.Value(value / 1.000000000000000000000000000m, Balance.Unit);
}

/// <summary>What is known of a lot's scope, for its reconciliation.</summary>
/// <param name="IsReceived">The lot was received or made of others.</param>
/// <param name="IsLotUnreadable">A stored fact about the lot can't be read.</param>
/// <param name="UnreadableUnits">Units that are touched by something that can't be read.</param>
/// <param name="UsesWithoutQuantity">Uses of the lot that say no quantity.</param>
/// <param name="Proven">Proven members of the scope, units around others included.</param>
/// <param name="Possible">Possible members.</param>
/// <param name="OpenUnits">
/// Units with a missing, void or undecided record of their own that the lot could have filled: those that could have taken of it. Without
/// units that merely have such a one inside.
/// </param>
public sealed record LotScopeCounts(
    bool IsReceived, bool IsLotUnreadable, int UnreadableUnits, int UsesWithoutQuantity, int Proven, int Possible, int OpenUnits);
