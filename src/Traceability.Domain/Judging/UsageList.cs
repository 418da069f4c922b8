using Traceability.Domain.Batches;
using Traceability.Domain.Facts;
using Traceability.Domain.Primitives;
using Traceability.Domain.ProductUnits;

namespace Traceability.Domain.Judging;

/// <summary>Which lots the records of a unit name.</summary>
internal static class UsageList
{
    public static ImmutableArray<MaterialUsage> Of(UnitHistory history)
    {
        var usages = ImmutableArray.CreateBuilder<MaterialUsage>();
        if (history is { Lot: { } lot, Opening: { } opening })
        {
            usages.Add(CameIn(history, opening, lot, isOneOf: false));
        }

        if (history.Forming is { Fact: BatchFormed { Lot: { } formedOf } } forming && formedOf != history.Lot)
        {
            usages.Add(CameIn(history, forming, formedOf, isOneOf: false));
        }

        AddOtherOpenings(history, usages);
        foreach (var attempt in history.Attempts)
        {
            Add(history, attempt, usages);
        }

        return usages.DrainToImmutable();
    }

    // Where a second opening names another lot, which of the two the unit came in is not known, though the first one counts.
    private static void AddOtherOpenings(UnitHistory history, ImmutableArray<MaterialUsage>.Builder usages)
    {
        if (history.Lot is not { } first)
        {
            return;
        }

        foreach (var again in history.SecondOpenings)
        {
            if (((UnitOpened)again.Fact).Lot is { } second && second != default && second != first)
            {
                usages.Add(CameIn(history, again, first, isOneOf: true));
                usages.Add(CameIn(history, again, second, isOneOf: true));
            }
        }
    }

    // The unit is itself a piece of the lot.
    private static MaterialUsage CameIn(UnitHistory history, EffectiveFact told, LotNumber lot, bool isOneOf)
    {
        var uncertainty = UnitHistory.UncertaintyOf(told);
        return new(
            null,
            told.Id,
            null,
            new(history.Unit.Key.Item, lot),
            null,
            isOneOf,
            Instant.Shift(told.At, -uncertainty).ToUniversalTime(),
            Instant.Shift(told.At, uncertainty).ToUniversalTime(),
            told.Fact.Station);
    }

    private static void Add(UnitHistory history, Attempt attempt, ImmutableArray<MaterialUsage>.Builder usages)
    {
        var uses = attempt.Record.Materials.OrEmpty();
        if (uses.IsEmpty)
        {
            return;
        }

        var serves = attempt.Serves(history);
        for (var u = 0; u < uses.Length; u++)
        {
            var lots = MaterialRules.LotsOf(uses[u]);
            foreach (var lot in lots)
            {
                usages.Add(new(
                    attempt.Record.Step,
                    attempt.Id,
                    serves[u] >= 0 ? attempt.Step!.Materials[serves[u]].Code : null,
                    new LotKey(uses[u].Item, lot),
                    uses[u].Container,
                    lots.Length > 1,
                    attempt.Earliest,
                    attempt.Latest,
                    attempt.Record.Station)
                {
                    Quantity = uses[u].Quantity,
                    Line = u,
                });
            }
        }
    }
}
