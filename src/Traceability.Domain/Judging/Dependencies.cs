using Traceability.Domain.Batches;
using Traceability.Domain.Facts;
using Traceability.Domain.Lots;
using Traceability.Domain.Nonconformances;
using Traceability.Domain.Primitives;
using Traceability.Domain.ProductUnits;
using Traceability.Domain.Routings;

namespace Traceability.Domain.Judging;

/// <summary>Which other streams a unit's judgement looks at.</summary>
public static class Dependencies
{
    /// <summary>The names of the streams that the judgement of the unit may look at, beside its own: a function of its facts.</summary>
    /// <remarks>A site is reached through its station, an item through what names it; both are small and always loaded.
    /// So are the lots that a lot was made of, through that lot, and what the records of its batch name, through the batch.</remarks>
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
            case UnitOpened opened:
                AddOpening(names, opened);
                break;
            case StepCompleted step:
                AddStep(names, step);
                break;
            case BatchFormed { Lot: { } lot } formed:
                names.Add(StreamNames.Of(new LotKey(formed.Batch.Item, lot)));
                break;
            case BatchSplit split:
                names.Add(StreamNames.Of(split.From));
                break;
            case BatchStepCompleted step:
                AddStep(names, (StepCompleted)BatchRecords.AsOwn(new(step.Batch.Item, default), step)!);
                break;
            case StepStarted { Supervisor: { } supervisor }:
                names.Add(StreamNames.Of(supervisor));
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

    /// <summary>Adds the names of the streams of temperatures that may be looked at: none where no revision of the routing looks at any.</summary>
    /// <param name="names">The names.</param>
    /// <param name="routing">The unit's routing.</param>
    /// <param name="references">What is known: the items.</param>
    /// <param name="facts">The unit's facts, and those that are to be added to it or asked about.</param>
    /// <remarks>A few more days than are looked at, since what is looked at follows from the judgement; which ones: <see cref="UnitJudgement.CureWindows"/>.</remarks>
    public static void AddTemperatures(ISet<string> names, Routing? routing, IReferences references, IEnumerable<Fact> facts)
    {
        ArgumentNullException.ThrowIfNull(names);
        ArgumentNullException.ThrowIfNull(references);
        ArgumentNullException.ThrowIfNull(facts);
        if (routing is not { HasTemperature: true })
        {
            return;
        }

        var all = facts.Select(f => f is RecordCorrected corrected ? corrected.Replacement : f).ToArray();
        foreach (var rule in routing.Released.SelectMany(r => r.Intervals.OrEmpty()).Where(i => i.Temperature is not null || i.OpenTimeOf is not null))
        {
            var days = all.SelectMany(f => MomentsOf(f, rule.From.Step)).SelectMany(CureRules.DaysFrom).ToHashSet();
            StepCompleted[] starting = [.. all.OfType<StepCompleted>().Where(s => s.Step == rule.From.Step)];
            var places = rule.Temperature is { } cure
                ? starting.Select(s => cure.Place ?? s.Station).Append(cure.Place).OfType<StationCode>().ToHashSet()
                : starting.SelectMany(s => s.Materials.OrEmpty().Select(m => references.FindItem(m.Item)?.OpenTimeByTemperature is { } table ? table.Place ?? s.Station : null)).OfType<StationCode>().ToHashSet();
            names.UnionWith(places.SelectMany(p => days.Select(d => StreamNames.OfTemperature(p, d))));
        }
    }

    /// <summary>The streams of temperatures that the judgement of a unit may look at; null for none, as almost always.</summary>
    /// <param name="names">The names so far; null for none.</param>
    /// <param name="references">What is known: the routing, the items, and the lots that the facts name.</param>
    /// <param name="unit">The unit.</param>
    /// <param name="more">Facts that are to be added to it or asked about.</param>
    public static HashSet<string>? Temperatures(HashSet<string>? names, IReferences references, ProductUnit unit, IEnumerable<Fact> more)
    {
        ArgumentNullException.ThrowIfNull(references);
        ArgumentNullException.ThrowIfNull(unit);
        var routing = references.FindRouting(unit.Key.Item);
        if (routing is not { HasTemperature: true } && !references.HasLivesByTemperature)
        {
            return names;
        }

        names ??= new(StringComparer.Ordinal);
        Fact[] own = [.. unit.Facts.Select(f => f.Fact), .. more];
        Fact[] facts = [.. own, .. OfBatches(references, unit.Key, own)];
        AddTemperatures(names, routing, references, facts);
        AddLives(names, references, facts);
        return names;
    }

    /// <summary>Adds the names of the streams of temperatures that the lives of mixes and opened containers may look at; almost always none.</summary>
    /// <param name="names">The names.</param>
    /// <param name="references">What is known: the items, and the lots that the facts name.</param>
    /// <param name="facts">The unit's facts, and those that are to be added to it or asked about.</param>
    public static void AddLives(ISet<string> names, IReferences references, IEnumerable<Fact> facts)
    {
        ArgumentNullException.ThrowIfNull(names);
        ArgumentNullException.ThrowIfNull(references);
        ArgumentNullException.ThrowIfNull(facts);
        foreach (var use in facts.Select(f => f is RecordCorrected corrected ? corrected.Replacement : f).OfType<StepCompleted>().SelectMany(s => s.Materials.OrEmpty()))
        {
            if (!references.HasLifeByTemperature(use.Item) || references.FindItem(use.Item) is not { } item)
            {
                continue;
            }

            foreach (var lot in MaterialRules.LotsOf(use).Select(n => references.FindLot(new(use.Item, n))).OfType<Lot>())
            {
                if (item.PotLifeByTemperature is { } pot)
                {
                    foreach (var (fact, _) in LotMixes.Of(lot, DateTimeOffset.MaxValue, references.FindLot))
                    {
                        AddPlace(names, pot.Place ?? fact.Fact.Station, fact.At);
                    }
                }

                if (item.OpenedLifeByTemperature is { } opened && use.Container is { } container && lot.Opening(container) is { } opening)
                {
                    AddPlace(names, opened.Place ?? opening.Fact.Station, opening.At);
                }
            }
        }
    }

    /// <summary>The names of the streams that the records of a batch bring in: with the batch, its units look at them.</summary>
    public static IReadOnlySet<string> Of(Batch batch)
    {
        ArgumentNullException.ThrowIfNull(batch);
        var names = new HashSet<string>(StringComparer.Ordinal);
        foreach (var recorded in batch.Facts)
        {
            Add(names, recorded.Fact);
        }

        return names;
    }

    // What was done to the batches that the facts name, as if it had been done to the unit.
    private static IEnumerable<Fact> OfBatches(IReferences references, UnitKey unit, IEnumerable<Fact> facts) => facts
        .Select(f => f is RecordCorrected corrected ? corrected.Replacement : f).OfType<UnitOpened>()
        .Select(BatchRecords.Of).OfType<BatchKey>().Distinct()
        .Select(references.FindBatch).OfType<Batch>()
        .SelectMany(b => BatchChain.Of(b, references.FindBatch)).Select(l => l.Batch)
        .SelectMany(b => b.Facts).Select(f => BatchRecords.AsOwn(unit, f.Fact)).OfType<Fact>();

    /// <summary>Who watched over the step that a fact reports; null for none.</summary>
    public static PersonCode? SupervisorOf(Fact fact) => fact switch
    {
        StepStarted started => started.Supervisor,
        StepCompleted completed => completed.Supervisor,
        RecordCorrected corrected => SupervisorOf(corrected.Replacement),
        _ => null,
    };

    private static void AddPlace(ISet<string> names, StationCode? place, DateTimeOffset start)
    {
        if (place is { } known)
        {
            names.UnionWith(CureRules.DaysFrom(start).Select(d => StreamNames.OfTemperature(known, d)));
        }
    }

    // The moments of a step that an interval may start at.
    private static IEnumerable<DateTimeOffset> MomentsOf(Fact fact, StepCode step) => fact switch
    {
        StepStarted s when s.Step == step => [s.At],
        StepCompleted s when s.Step == step =>
        [
            s.At, .. s.StartedAt is { } at ? [Instant.Shift(at, s.Clock.Offset)] : Array.Empty<DateTimeOffset>(), .. s.Marks.OrEmpty().Select(m => Instant.Shift(m.At, s.Clock.Offset)),
        ],
        _ => [],
    };

    private static void AddOpening(ISet<string> names, UnitOpened opened)
    {
        if (opened.Lot is { } lot)
        {
            names.Add(StreamNames.Of(new LotKey(opened.Unit.Item, lot)));
        }

        if (BatchRecords.Of(opened) is { } batch)
        {
            names.Add(StreamNames.Of(batch));
        }
    }

    private static void AddStep(ISet<string> names, StepCompleted step)
    {
        if (step.Supervisor is { } supervisor)
        {
            names.Add(StreamNames.Of(supervisor));
        }

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
