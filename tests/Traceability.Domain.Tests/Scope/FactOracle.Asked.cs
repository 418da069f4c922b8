using Traceability.Domain.Primitives;
using Traceability.Domain.ProductUnits;
using Traceability.Domain.Scope;
using Traceability.Testing.Scope.Facts;

namespace Traceability.Domain.Tests.Scope;

/// <content>Whether a record is of what is asked for.</content>
internal sealed partial class FactOracle
{
    private bool Concerns(SuspectWork w, FactReading unit) => Concerns(w.Item, unit) && (w.Variant is null || w.Variant == unit.Variant) && unit.Unit.Item != _history.Plant.Pin;

    private static bool Concerns(ItemNumber? item, FactReading unit) => item is null || item == unit.Unit.Item;

    private bool IsSub(FactReading unit) => unit.Unit.Item == _history.Plant.Sub;

    private bool Asked(SuspectMeasured s, RevisionCode revision, StepCode step, FactReading unit) => s.Characteristic == Plant.Look
        ? (IsSub(unit) && step == Plant.Screw && Plant.NeedsLook(revision, step)) || step == Plant.Seal
        : IsSub(unit) && Plant.NeedsTorque(revision, step);

    private static bool IsRecorded(SuspectMeasured s, StepCompleted record) =>
        s.Characteristic == Plant.Look ? !record.Checks.IsEmpty : !record.Measurements.IsEmpty;

    private static IEnumerable<bool[]> Values(SuspectMeasured s, StepCompleted record)
    {
        if (s.Characteristic == Plant.Look)
        {
            return record.Checks.Select(c => new[] { s.Condition == MeasuredCondition.NotPassed && !c.Passed });
        }

        return record.Measurements.Select<Measurement, bool[]>(m =>
        {
            var factor = m.Unit == "cN.m" ? 0.01m : 1m;
            var value = m.Value * factor;
            if (s.Condition == MeasuredCondition.NotPassed)
            {
                return [value < Plant.TorqueMin || value > Plant.TorqueMax];
            }

            var bound = s.Bound!.Value.Value * (s.Bound.Value.Unit == "cN.m" ? 0.01m : 1m);
            var off = 2 * (m.StandardUncertainty ?? 0);
            if (off == 0)
            {
                return [s.Condition == MeasuredCondition.Below ? value < bound : value > bound];
            }

            // What reaches the bound just so may be beyond it, and isn't surely so.
            var (least, most) = (value - (off * factor), value + (off * factor));
            var (mayBe, isSure) = s.Condition == MeasuredCondition.Below ? (least <= bound, most < bound) : (most >= bound, least > bound);
            return isSure ? [true] : mayBe ? [true, false] : [false];
        });
    }
}
