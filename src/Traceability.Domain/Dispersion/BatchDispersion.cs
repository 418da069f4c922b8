using System.Globalization;

namespace Traceability.Domain.Dispersion;

/// <summary>A finished unit carries material of a lot.</summary>
/// <param name="Lot">The lot.</param>
/// <param name="Unit">The finished unit.</param>
public readonly record struct LotLink(string Lot, string Unit);

/// <summary>How widely the lots of one item are spread over finished units, and what mixing them costs.</summary>
/// <remarks>
/// <para>
/// Downward dispersion of a lot: how many finished units carry it. Upward dispersion of a finished unit: how many lots of the item it
/// carries. Batch dispersion: the number of links between lots and finished units, which is the sum of either. After C. Dupuy,
/// V. Botta-Genoulaz, A. Guinet, "Batch dispersion model to optimise traceability in food industry", Journal of Food Engineering 70
/// (2005); the definitions are from memory.
/// </para>
/// <para>
/// What links there must be follows by counting: each finished unit carries at least one lot and each lot is in at least one unit, so
/// there are at least max(units, lots). Lots that are used up one after another, by units that are made one after another, make at
/// most units + lots − 1: along what is used, each further link begins either a further unit or a further lot.
/// </para>
/// </remarks>
/// <param name="Lots">Lots that at least one finished unit carries.</param>
/// <param name="FinishedUnits">Finished units that carry at least one of the lots.</param>
/// <param name="Links">Pairs of a lot and a finished unit that carries it.</param>
/// <param name="LotsPerUnitMost">The most lots that one finished unit carries.</param>
public sealed record BatchDispersion(long Lots, long FinishedUnits, long Links, long LotsPerUnitMost)
{
    /// <summary>The fewest links that there could be.</summary>
    public long LinksLeast => Math.Max(Lots, FinishedUnits);

    /// <summary>The most links that there would be, had lots been used up one after another.</summary>
    public long LinksOneAfterAnother => Links == 0 ? 0 : Lots + FinishedUnits - 1;

    /// <summary>The links that mixing added, beyond the most that using up lots one after another can make.</summary>
    public long LinksByMixing => Math.Max(0, Links - LinksOneAfterAnother);

    /// <summary>How many finished units a lot is in, on average; null without links.</summary>
    public double? UnitsPerLot => Lots == 0 ? null : (double)Links / Lots;

    /// <summary>How many lots a finished unit carries, on average; null without links.</summary>
    public double? LotsPerUnit => FinishedUnits == 0 ? null : (double)Links / FinishedUnits;

    /// <summary>How many finished units a lot would be in on average, had lots been used up one after another; null without links.</summary>
    public double? UnitsPerLotOneAfterAnother => Lots == 0 ? null : (double)LinksOneAfterAnother / Lots;

    /// <summary>Counts links; one that is given twice counts once.</summary>
    public static BatchDispersion Of(IEnumerable<LotLink> links)
    {
        ArgumentNullException.ThrowIfNull(links);
        LotLink[] all = [.. links.Distinct()];
        var lotsByUnit = all.GroupBy(l => l.Unit, StringComparer.Ordinal).Select(g => g.LongCount()).ToArray();
        return new(
            all.Select(l => l.Lot).Distinct(StringComparer.Ordinal).LongCount(),
            lotsByUnit.LongLength,
            all.LongLength,
            lotsByUnit.Length == 0 ? 0 : lotsByUnit.Max());
    }

    /// <summary>What mixing the lots of the item costs, in words.</summary>
    public string Words()
    {
        if (Links == 0)
        {
            return "No finished unit carries a lot of this item by record.";
        }

        var now = string.Create(
            CultureInfo.InvariantCulture,
            $"{Count(Lots, "lot")} in {Count(FinishedUnits, "finished unit")} by {Count(Links, "link")}: one lot found bad concerns {UnitsPerLot:0.#} finished units on average, and a finished unit carries {LotsPerUnit:0.##} lots, at most {LotsPerUnitMost}.");
        var other = LinksByMixing == 0
            ? " That is not more than lots used up one after another would make."
            : string.Create(
                CultureInfo.InvariantCulture,
                $" Used up one after another, the lots would have made {LinksOneAfterAnother} links at most, {UnitsPerLotOneAfterAnother:0.#} finished units a lot: mixing added {LinksByMixing}.");
        return now + other;
    }

    private static string Count(long number, string what) =>
        string.Create(CultureInfo.InvariantCulture, $"{number} {what}{(number == 1 ? string.Empty : "s")}");
}
