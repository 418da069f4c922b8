using Traceability.Domain.Batches;
using Traceability.Domain.Facts;
using Traceability.Domain.Primitives;

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

        foreach (var attempt in history.Attempts)
        {
            Add(history, attempt, usages);
        }

        return usages.DrainToImmutable();
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
