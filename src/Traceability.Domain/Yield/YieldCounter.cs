using System.Runtime.InteropServices;

namespace Traceability.Domain.Yield;

/// <summary>The counts that every yield figure of one cell (step, station, day, …) is computed from.</summary>
/// <remarks>
/// <para>
/// Counters add and subtract field by field, so a late or corrected fact is a difference: the old judgement out, the
/// new one in. A difference may have negative fields; a total never has, see <see cref="IsConsistent"/>.
/// </para>
/// <para>
/// All counts of a unit belong to the cell that its first attempt belongs to, also those of a later rework: else a
/// ratio could exceed one. For a whole product, "attempt" reads "unit that ended".
/// </para>
/// <para>
/// Formulas: ISO 22400-2 (first pass yield = good parts of the first run without rework ÷ inspected parts; rework
/// ratio = RQ ÷ PQ; scrap ratio = SQ ÷ PQ) and ISO 13053-1 (defects per unit, per million opportunities).
/// </para>
/// </remarks>
[StructLayout(LayoutKind.Auto)]
public readonly record struct YieldCounter
{
    /// <summary>Units whose first attempt was completed: PQ, and the units inspected.</summary>
    public long FirstAttempts { get; init; }

    /// <summary>Of these, the units whose first attempt passed with no finding that counts as a defect, and without rework.</summary>
    public long FirstPassed { get; init; }

    /// <summary>Attempts completed, the first ones included.</summary>
    public long Attempts { get; init; }

    /// <summary>Units that were reworked at least once: RQ.</summary>
    public long ReworkedUnits { get; init; }

    /// <summary>Attempts that followed a rework.</summary>
    public long Reworks { get; init; }

    /// <summary>Attempts that repeated the step without rework.</summary>
    public long Retests { get; init; }

    /// <summary>Units scrapped: SQ.</summary>
    public long Scrapped { get; init; }

    /// <summary>Defects found; one unit may have several.</summary>
    public long Defects { get; init; }

    /// <summary>Opportunities for a defect: over all units, the characteristics and checks that could have failed.</summary>
    public long Opportunities { get; init; }

    /// <summary>No counts.</summary>
    public static YieldCounter Zero => default;

    /// <summary>Whether the counts can be those of a total: none negative, no part larger than its whole.</summary>
    public bool IsConsistent =>
        FirstPassed >= 0 && FirstPassed <= FirstAttempts
        && ReworkedUnits >= 0 && ReworkedUnits <= FirstAttempts && ReworkedUnits <= Reworks
        && Scrapped >= 0 && Scrapped <= FirstAttempts
        && Retests >= 0 && Attempts - FirstAttempts == Reworks + Retests
        && Defects >= 0 && Opportunities >= 0;

    /// <summary>ISO 22400-2 first pass yield: <see cref="FirstPassed"/> of <see cref="FirstAttempts"/>.</summary>
    /// <exception cref="ArgumentOutOfRangeException">The counts are not those of a total.</exception>
    public Proportion FirstPassYield => new(FirstPassed, FirstAttempts);

    /// <summary>ISO 22400-2 rework ratio, RQ ÷ PQ: <see cref="ReworkedUnits"/> of <see cref="FirstAttempts"/>.</summary>
    /// <exception cref="ArgumentOutOfRangeException">The counts are not those of a total.</exception>
    public Proportion ReworkRatio => new(ReworkedUnits, FirstAttempts);

    /// <summary>ISO 22400-2 scrap ratio, SQ ÷ PQ: <see cref="Scrapped"/> of <see cref="FirstAttempts"/>.</summary>
    /// <exception cref="ArgumentOutOfRangeException">The counts are not those of a total.</exception>
    public Proportion ScrapRatio => new(Scrapped, FirstAttempts);

    /// <summary>ISO 13053-1 defects per unit.</summary>
    /// <exception cref="ArgumentOutOfRangeException">The counts are not those of a total.</exception>
    public EventRate DefectsPerUnit => new(Defects, FirstAttempts);

    /// <summary>Attempts that were reworks: <see cref="Reworks"/> of <see cref="Attempts"/>. Not ISO 22400-2's rework ratio, which counts units.</summary>
    /// <remarks>For cells that count each attempt for itself, where a unit's first attempt may lie in another cell than its rework.</remarks>
    /// <exception cref="ArgumentOutOfRangeException">The counts are not those of a total.</exception>
    public Proportion ReworkedAttempts => new(Reworks, Attempts);

    /// <summary>ISO 13053-1 defects per unit, with a unit counted at each of its attempts: <see cref="Defects"/> in <see cref="Attempts"/>.</summary>
    /// <remarks>For cells that count each attempt for itself: a defect always lies in the cell of its attempt.</remarks>
    /// <exception cref="ArgumentOutOfRangeException">The counts are not those of a total.</exception>
    public EventRate DefectsPerAttempt => new(Defects, Attempts);

    /// <summary>ISO 13053-1 defects per million opportunities.</summary>
    /// <exception cref="ArgumentOutOfRangeException">The counts are not those of a total.</exception>
    public EventRate DefectsPerMillionOpportunities => new(Defects, Opportunities, 1_000_000);

    /// <summary>The counts of both.</summary>
    /// <exception cref="OverflowException">A count leaves 64 bits.</exception>
    public static YieldCounter operator +(YieldCounter left, YieldCounter right) => checked(new YieldCounter
    {
        FirstAttempts = left.FirstAttempts + right.FirstAttempts,
        FirstPassed = left.FirstPassed + right.FirstPassed,
        Attempts = left.Attempts + right.Attempts,
        ReworkedUnits = left.ReworkedUnits + right.ReworkedUnits,
        Reworks = left.Reworks + right.Reworks,
        Retests = left.Retests + right.Retests,
        Scrapped = left.Scrapped + right.Scrapped,
        Defects = left.Defects + right.Defects,
        Opportunities = left.Opportunities + right.Opportunities,
    });

    /// <summary>The difference that leads from <paramref name="right"/> to <paramref name="left"/>.</summary>
    /// <exception cref="OverflowException">A count leaves 64 bits.</exception>
    public static YieldCounter operator -(YieldCounter left, YieldCounter right) => checked(new YieldCounter
    {
        FirstAttempts = left.FirstAttempts - right.FirstAttempts,
        FirstPassed = left.FirstPassed - right.FirstPassed,
        Attempts = left.Attempts - right.Attempts,
        ReworkedUnits = left.ReworkedUnits - right.ReworkedUnits,
        Reworks = left.Reworks - right.Reworks,
        Retests = left.Retests - right.Retests,
        Scrapped = left.Scrapped - right.Scrapped,
        Defects = left.Defects - right.Defects,
        Opportunities = left.Opportunities - right.Opportunities,
    });
}
