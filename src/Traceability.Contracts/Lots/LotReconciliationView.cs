namespace Traceability.Contracts.Lots;

/// <summary>A lot's mass balance beside its scope: where what is unexplained could have gone, and what stands against taking the scope as complete.</summary>
/// <param name="AsOf">The moment of asking: every fact acknowledged before it is in the answer.</param>
/// <param name="Balance">The mass balance.</param>
/// <param name="PerUnit">What a unit takes of the lot, by the records that say a quantity; null if none does.</param>
/// <param name="LeastPerUnit">The least that a unit takes, in the balance's unit; null if that isn't known.</param>
/// <param name="LeastBy">routing: the least by the released routings; recorded: by the records; null: not known.</param>
/// <param name="UnitsMost">How many units the unexplained could be in at most, each taking the least; null if that can't be told.</param>
/// <param name="UnitsTypical">How many units, each taking what is typical by record; null if that can't be told.</param>
/// <param name="Proven">Proven members of the scope.</param>
/// <param name="Possible">Possible members of the scope.</param>
/// <param name="OpenUnits">Units with a missing, void or undecided record of their own that the lot could have filled.</param>
/// <param name="CapacityMost">The most that these could have taken, each as much as any unit did by record; null if that can't be told.</param>
/// <param name="BeyondLeast">What of the unexplained is beyond that, at the least; null if that can't be told.</param>
/// <param name="BeyondMost">The same at the most.</param>
/// <param name="Warnings">What stands against taking the scope as complete.</param>
/// <param name="Completeness">What may be missing from the answer.</param>
public sealed record LotReconciliationView(
    DateTimeOffset AsOf,
    LotBalanceView Balance,
    LotUsePerUnitView? PerUnit,
    decimal? LeastPerUnit,
    string? LeastBy,
    long? UnitsMost,
    long? UnitsTypical,
    int Proven,
    int Possible,
    int OpenUnits,
    decimal? CapacityMost,
    decimal? BeyondLeast,
    decimal? BeyondMost,
    IReadOnlyList<LotWarningView> Warnings,
    Completeness Completeness);

/// <summary>What a unit takes of a lot by record, in the balance's unit.</summary>
/// <param name="Units">How many units have records that say a quantity.</param>
/// <param name="Least">The least that one took.</param>
/// <param name="Typical">The median.</param>
/// <param name="Most">The most that one took.</param>
public sealed record LotUsePerUnitView(int Units, decimal Least, decimal Typical, decimal Most);

/// <summary>Something that stands against taking a lot's scope as complete.</summary>
/// <param name="Code">unexplained-beyond-scope, more-left-than-came-in, never-received, unreadable, uses-without-quantity or not-balanced.</param>
/// <param name="Detail">In words.</param>
public sealed record LotWarningView(string Code, string Detail);
