using Traceability.Domain.Facts;
using Traceability.Domain.Nonconformances;
using Traceability.Domain.Primitives;
using Traceability.Domain.ProductUnits;

namespace Traceability.Domain.Judging;

/// <summary>Which other streams a unit's judgement looks at.</summary>
public static class Dependencies
{
    /// <summary>The names of the streams that the judgement of the unit may look at, beside its own: a function of its facts.</summary>
    /// <remarks>A site is reached through its station, an item through what names it; both are small and always loaded.</remarks>
    public static IReadOnlySet<string> Of(ProductUnit unit)
    {
        ArgumentNullException.ThrowIfNull(unit);
        var names = new HashSet<string>(StringComparer.Ordinal) { StreamNames.OfItem(unit.Key.Item), StreamNames.OfRouting(unit.Key.Item) };
        foreach (var recorded in unit.Facts)
        {
            Add(names, recorded.Fact);
        }

        return names;
    }

    /// <summary>Adds the names of the streams that one fact brings in.</summary>
    public static void Add(ISet<string> names, Fact fact)
    {
        ArgumentNullException.ThrowIfNull(names);
        ArgumentNullException.ThrowIfNull(fact);
        if (fact.Station is { } station)
        {
            names.Add(StreamNames.Of(station));
        }

        if (fact.Person is { } person)
        {
            names.Add(StreamNames.Of(person));
        }

        switch (fact)
        {
            case UnitOpened { Lot: { } lot } opened:
                names.Add(StreamNames.Of(new LotKey(opened.Unit.Item, lot)));
                break;
            case StepCompleted step:
                AddStep(names, step);
                break;
            case ComponentInstalled installed:
                names.Add(StreamNames.Of(installed.Component));
                break;
            case NonconformanceReported report:
                names.Add(StreamNames.OfDefect(report.Defect));
                break;
            case RecordCorrected corrected:
                Add(names, corrected.Replacement);
                break;
        }
    }

    private static void AddStep(ISet<string> names, StepCompleted step)
    {
        foreach (var material in step.Materials)
        {
            names.Add(StreamNames.OfItem(material.Item));
            foreach (var lot in material.Lots)
            {
                names.Add(StreamNames.Of(new LotKey(material.Item, lot)));
            }
        }

        foreach (var tool in step.Tools)
        {
            names.Add(StreamNames.Of(tool.Tool));
        }

        foreach (var component in step.Components)
        {
            names.Add(StreamNames.Of(component.Component));
        }

        foreach (var defect in step.Defects)
        {
            names.Add(StreamNames.OfDefect(defect.Defect));
        }
    }
}
