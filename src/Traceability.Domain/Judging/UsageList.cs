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
            var uncertainty = UnitHistory.UncertaintyOf(opening);
            usages.Add(new(
                null,
                opening.Id,
                null,
                new(history.Unit.Key.Item, lot),
                null,
                IsOneOf: false,
                Instant.Shift(opening.At, -uncertainty).ToUniversalTime(),
                Instant.Shift(opening.At, uncertainty).ToUniversalTime(),
                opening.Fact.Station));
        }

        if (history.Forming is { Fact: BatchFormed { Lot: { } formedOf } } forming && formedOf != history.Lot)
        {
            var uncertainty = UnitHistory.UncertaintyOf(forming);
            usages.Add(new(
                null,
                forming.Id,
                null,
                new(history.Unit.Key.Item, formedOf),
                null,
                IsOneOf: false,
                Instant.Shift(forming.At, -uncertainty).ToUniversalTime(),
                Instant.Shift(forming.At, uncertainty).ToUniversalTime(),
                forming.Fact.Station));
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
                usages.Add(OneOf(first));
                usages.Add(OneOf(second));
            }

            MaterialUsage OneOf(LotNumber lot)
            {
                var uncertainty = UnitHistory.UncertaintyOf(again);
                return new(
                    null,
                    again.Id,
                    null,
                    new(history.Unit.Key.Item, lot),
                    null,
                    IsOneOf: true,
                    Instant.Shift(again.At, -uncertainty).ToUniversalTime(),
                    Instant.Shift(again.At, uncertainty).ToUniversalTime(),
                    again.Fact.Station);
            }
        }
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
