using System.Collections.Immutable;
using Traceability.Domain.Primitives;
using Traceability.Domain.Scope;

namespace Traceability.Testing.Scope.Facts;

/// <summary>Makes up questions about a history.</summary>
internal sealed class QuestionMaker(FactHistory history, Choices choices)
{
    private readonly Plant _plant = history.Plant;

    /// <summary>One of each kind.</summary>
    public ImmutableArray<SingleSuspect> Singles() => [.. Enumerable.Range(0, 10).Select(Single)];

    /// <summary>One that combines several, at most so deep.</summary>
    public Suspect Combination(int depth) => (depth > 0 ? choices.Pick(4) : 0) switch
    {
        1 => new SuspectAll([Combination(depth - 1), Combination(depth - 1)]),
        2 => new SuspectAny([Combination(depth - 1), Combination(depth - 1)]),
        3 => new SuspectExcept(Combination(depth - 1), Combination(depth - 1)),
        _ => Single(choices.Pick(10)),
    };

    private SingleSuspect Single(int kind)
    {
        ItemNumber[] items = [_plant.Sub, _plant.Sub, _plant.Top];
        SingleSuspect single = kind switch
        {
            0 => history.Truth.Factor,
            1 => history.Truth.SupplierLot is { } lot ? new SuspectSupplierLot(lot, null) : history.Truth.Factor,
            2 => new SuspectComponent(choices.Of(history.Truth.Units).Key),
            3 => new SuspectTool(_plant.Tool, choices.Chance(2) ? choices.Of(Plant.Settings) : null, ToolTimes.SinceLastGood),
            4 => new SuspectTool(_plant.Tool, choices.Chance(2) ? choices.Of(Plant.Settings) : null, ToolTimes.All),
            5 => new SuspectWork(choices.Of(items), choices.Chance(3) ? Plant.Variant : null, choices.Chance(2) ? choices.Of(Plant.Revisions) : null, choices.Chance(2) ? choices.Of(_plant.People) : null),
            6 => new SuspectWork(null, null, choices.Chance(3) ? choices.Of(Plant.Revisions) : null, choices.Of(_plant.People)),
            7 => new SuspectMeasured(choices.Chance(2) ? _plant.Sub : null, Plant.Torque, choices.Chance(2) ? MeasuredCondition.Below : MeasuredCondition.Above, choices.Chance(2) ? new(1.1m, "N.m") : new(110m, "cN.m")),
            8 => new SuspectMeasured(choices.Chance(2) ? choices.Of(items) : null, choices.Chance(2) ? Plant.Look : Plant.Torque, MeasuredCondition.NotPassed, null),
            _ => choices.Chance(2)
                ? new SuspectInterval(choices.Chance(2) ? _plant.Sub : null, Plant.Cure, TimeSpan.FromMinutes(1 + choices.Pick(4)), null)
                : new SuspectInterval(choices.Chance(2) ? _plant.Sub : null, Plant.Cure, null, TimeSpan.FromMinutes(choices.Pick(4))),
        };
        return single is SuspectComponent || choices.Chance(2) ? single : single with { Filter = Filter() };
    }

    private UseFilter Filter()
    {
        DateTimeOffset? from = choices.Chance(2) ? RandomGenealogy.At(1 + choices.Pick(7)) : null;
        DateTimeOffset? to = choices.Chance(2) ? (from ?? RandomGenealogy.Start).AddMinutes(1 + choices.Pick(6)) : null;
        return new(
            from,
            to,
            choices.Chance(3) ? choices.Of([Plant.Bond, Plant.Screw, Plant.Marry]) : null,
            choices.Chance(3) ? choices.Of(Plant.Stations) : null);
    }
}
