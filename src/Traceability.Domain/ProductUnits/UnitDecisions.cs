using Traceability.Domain.Batches;
using Traceability.Domain.Facts;
using Traceability.Domain.Judging;
using Traceability.Domain.Nonconformances;
using Traceability.Domain.Primitives;
using Traceability.Domain.Routings;

namespace Traceability.Domain.ProductUnits;

/// <summary>Decides whether a fact about a unit can be recorded. It is recorded as it is, or refused whole.</summary>
/// <remarks>
/// A well-formed fact about a known unit always is, however bad the news: what is wrong with it is a judgement beside it.
/// Refused are the unknown unit, station or record, a second opening, and a value whose unit can't be compared at all.
/// </remarks>
public static class UnitDecisions
{
    /// <summary>The refusal, or null: record it.</summary>
    public static Refusal? Check(ProductUnit unit, Fact fact, IReferences references)
    {
        ArgumentNullException.ThrowIfNull(unit);
        ArgumentNullException.ThrowIfNull(fact);
        ArgumentNullException.ThrowIfNull(references);
        if (fact.Station is { } station && references.FindStation(station) is null)
        {
            return Refusal.At("station-unknown", RefusalKind.Unknown, "/station", $"Station {station} is not known. Define it first, or correct the terminal's setting.");
        }

        if (fact is UnitOpened opened)
        {
            return CheckOpening(unit, opened, references);
        }

        if (!unit.Facts.Any(f => f.Fact is UnitOpened))
        {
            return Refusal.At("unit-unknown", RefusalKind.Unknown, "/unit", $"Unit {unit.Key} is not known. Scan it again, or open it first.");
        }

        return fact switch
        {
            StepCompleted step => CheckUnits(unit, step, references, string.Empty),
            UnitMovedToRevision { DecidedAtVersion: { } version } when version != unit.Version => Refusal.At(
                "unit-changed",
                RefusalKind.Contradiction,
                "/decidedAtVersion",
                $"Unit {unit.Key} is at version {unit.Version}, and the move was decided at version {version}. Make the plan anew and decide by it."),
            RecordCorrected { Replacement: StepCompleted step } => CheckUnits(unit, step, references, "/replacement"),
            UnitReleased { Signature: { } signature } => CheckSigned(unit, signature, references),
            UnitShipped { Shipment: not null } => CheckLeaving(unit),
            _ => NonconformanceDecisions.Check(unit, fact, references),
        };
    }

    private static Refusal? CheckOpening(ProductUnit unit, UnitOpened opened, IReferences references)
    {
        if (references.FindItem(opened.Unit.Item) is not { } item)
        {
            return Refusal.At("item-unknown", RefusalKind.Unknown, "/unit/item", $"Item {opened.Unit.Item} is not known. Define it first.");
        }

        if (opened.Variant is { } variant && !item.Variants.Contains(variant))
        {
            var known = item.Variants.IsEmpty ? "none" : string.Join(", ", item.Variants);
            return Refusal.At("variant-unknown", RefusalKind.Unknown, "/variant", $"Item {item.Item} has no variant {variant}; it has {known}.");
        }

        if (BatchRecords.Of(opened) is { } batch && references.FindBatch(batch) is null)
        {
            return BatchDecisions.Unknown(batch, "/batch");
        }

        return unit.Opened is not null
            ? Refusal.At("unit-already-open", RefusalKind.Contradiction, "/unit", $"Unit {unit.Key} was opened before. Scan the next serial number.")
            : null;
    }

    // What is signed is what was judged: a fact that came in between was not. Of the units inside, those that this judgement looks at.
    private static Refusal? CheckSigned(ProductUnit unit, Signature signature, IReferences references)
    {
        var changed = signature.Units.FirstOrDefault(u => u.Unit == unit.Key)?.Version != unit.Version
            ? unit.Key
            : signature.Units.FirstOrDefault(u => u.Unit != unit.Key && references.FindUnit(u.Unit) is { } inside && inside.Version != u.Version)?.Unit;
        return changed is null
            ? null
            : Refusal.Of("release-record-changed", RefusalKind.Contradiction, $"Something was recorded about {changed} while {unit.Key} was being released. Look at the unit again, and release it anew.");
    }

    // What was judged before may have changed in between: a hold, another shipment. One that was only reported is recorded all the same.
    private static Refusal? CheckLeaving(ProductUnit unit) =>
        LifeCycle.Of(LifeCycle.At(unit, DateTimeOffset.MaxValue), UnitAct.Ship).Refusals is [var first, ..]
            ? Refusal.Of("shipment-blocked", RefusalKind.Contradiction, $"{unit.Key} may not leave: {LifeCycle.Say(first)}")
            : null;

    // A value in seconds for a torque says nothing about the torque; a value out of limits does, and is recorded.
    private static Refusal? CheckUnits(ProductUnit unit, StepCompleted completed, IReferences references, string at)
    {
        if (Find(unit, completed.Step, references) is not { } step)
        {
            return null;
        }

        var faults = ImmutableArray.CreateBuilder<Fault>();
        for (var i = 0; i < completed.Measurements.Length; i++)
        {
            var measured = completed.Measurements[i];
            var asked = step.Characteristics.FirstOrDefault(c => c.Code == measured.Characteristic);
            if (asked?.Unit is { } expected && !EnteredUnits.AreComparable(measured.Unit, expected))
            {
                faults.Add(new($"{at}/measurements/{i}/unit", $"{measured.Characteristic} is measured in {expected} or another unit of the same kind; {measured.Unit} can't be converted to it."));
            }
        }

        for (var i = 0; i < completed.Materials.Length; i++)
        {
            var used = completed.Materials[i];
            var asked = step.Materials.FirstOrDefault(m => used.Requirement is { } r ? m.Code == r : m.Accepts(used.Item));
            if (used.Quantity is { } quantity && (asked?.QuantityMin ?? asked?.QuantityMax) is { } expected && !EnteredUnits.AreComparable(quantity.Unit, expected.Unit))
            {
                faults.Add(new($"{at}/materials/{i}/quantity/unit", $"{used.Item} is asked for in {expected.Unit} or another unit of the same kind; {quantity.Unit} can't be converted to it."));
            }
        }

        return faults.Count == 0
            ? null
            : new("unit-of-measure-wrong", RefusalKind.Malformed, faults[0].Detail, faults.ToImmutable());
    }

    private static Step? Find(ProductUnit unit, StepCode code, IReferences references)
    {
        if (references.FindRouting(unit.Key.Item) is not { } routing || unit.Opened is not { } opened)
        {
            return null;
        }

        var moved = unit.Effective.LastOrDefault(f => f is { IsVoided: false, Fact: UnitMovedToRevision })?.Fact as UnitMovedToRevision;
        var revision = moved is null
            ? routing.EffectiveFor(opened.Unit.Serial, opened.Variant, opened.Options, opened.At)
            : routing.FindReleased(moved.Revision);
        return revision?.Find(code);
    }
}
