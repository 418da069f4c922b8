using System.Text.Json;
using Traceability.Domain.Primitives;
using Traceability.Domain.Quantities;
using Traceability.Domain.Tools;

namespace Traceability.Service.Http.Reading;

/// <summary>Reads the facts about tools.</summary>
internal static class ToolFactTypes
{
    private static readonly Shape PointShape = new("setting", "nominal", "asFound", "asLeft", "uncertainty");

    public static ImmutableArray<FactType> All { get; } =
    [
        FactType.Of("tool-defined", Defined, "tool", "toolClass", "description", "needsCalibration", "calibrationInterval"),
        FactType.Of("tool-calibrated", Calibrated, "tool", "foundGood", "leftGood", "validUntil", "certificate", "points"),
        FactType.Of("tool-setting-verified", Verified, "tool", "setting", "torque", "validUntil", "uncertainty"),
        FactType.Of("tool-checked", Checked, "tool", "setting", "readings", "lower", "upper", "uncertainty"),
        FactType.Of("tool-studied", Studied, "tool", "setting", "joint", "readings"),
        FactType.Of(
            "tool-withdrawn",
            (o, c) => new ToolWithdrawn(o.Code<ToolNumber>("tool"), o.Text("reason")) { OccurredAt = c.At, Station = c.Station, Person = c.Person },
            "tool", "reason"),
        FactType.Of(
            "tool-reinstated",
            (o, c) => new ToolReinstated(o.Code<ToolNumber>("tool"), o.Text("reason")) { OccurredAt = c.At, Station = c.Station, Person = c.Person },
            "tool", "reason"),
    ];

    private static ToolDefined Defined(ObjectReading o, CommonMembers c) =>
        new(o.Code<ToolNumber>("tool"), o.Code<Code>("toolClass"), o.Text("description"), o.Flag("needsCalibration"))
        {
            OccurredAt = c.At, Station = c.Station, Person = c.Person, CalibrationInterval = Interval(o),
        };

    private static TimeSpan? Interval(ObjectReading o)
    {
        var interval = o.DurationOrNull("calibrationInterval");
        if (interval == TimeSpan.Zero)
        {
            o.Fail("calibrationInterval", "The interval must be longer than nothing; leave it out if a calibration holds until the next one.");
        }

        return interval;
    }

    private static ToolCalibrated Calibrated(ObjectReading o, CommonMembers c) =>
        new(o.Code<ToolNumber>("tool"), o.Flag("foundGood"), o.Flag("leftGood"), o.TimeOrNull("validUntil"), o.TextOrNull("certificate"))
        {
            OccurredAt = c.At, Station = c.Station, Person = c.Person, Points = o.List("points", Point),
        };

    private static CalibrationPoint Point(JsonReading reading, JsonElement element)
    {
        using var o = reading.Open(element, PointShape);
        var point = new CalibrationPoint(
            o.CodeOrNull<Code>("setting"),
            o.Value("nominal", Parts.Quantity),
            o.ValueOrNull("asFound", Parts.Quantity),
            o.ValueOrNull("asLeft", Parts.Quantity),
            o.ValueOrNull("uncertainty", Parts.Amount));
        SameKind(o, "asFound", point.AsFound, point.Nominal);
        SameKind(o, "asLeft", point.AsLeft, point.Nominal);
        SameKind(o, "uncertainty", point.Uncertainty, point.Nominal);
        return point;
    }

    private static ToolSettingVerified Verified(ObjectReading o, CommonMembers c) =>
        new(o.Code<ToolNumber>("tool"), o.Code<Code>("setting"), o.Value("torque", Parts.Torque), o.TimeOrNull("validUntil"))
        {
            OccurredAt = c.At, Station = c.Station, Person = c.Person, Uncertainty = TorqueUncertainty(o),
        };

    private static EnteredQuantity? TorqueUncertainty(ObjectReading o)
    {
        var uncertainty = o.ValueOrNull("uncertainty", Parts.Torque);
        if (uncertainty is { Value: < 0 })
        {
            o.Fail("uncertainty", "An uncertainty must not be negative.");
        }

        return uncertainty;
    }

    private static ToolChecked Checked(ObjectReading o, CommonMembers c)
    {
        var fact = new ToolChecked(
            o.Code<ToolNumber>("tool"),
            o.CodeOrNull<Code>("setting"),
            AtLeast(o, 1, Parts.Quantity),
            o.ValueOrNull("lower", Parts.Quantity),
            o.ValueOrNull("upper", Parts.Quantity),
            o.ValueOrNull("uncertainty", Parts.Amount))
        {
            OccurredAt = c.At, Station = c.Station, Person = c.Person,
        };
        if (!fact.Readings.IsEmpty)
        {
            SameKind(o, "lower", fact.Lower, fact.Readings[0]);
            SameKind(o, "upper", fact.Upper, fact.Readings[0]);
            SameKind(o, "uncertainty", fact.Uncertainty, fact.Readings[0]);
        }

        Parts.CheckOrder(o, "upper", fact.Lower, fact.Upper);
        return fact;
    }

    private static ToolStudied Studied(ObjectReading o, CommonMembers c) =>
        new(o.Code<ToolNumber>("tool"), o.Code<Code>("setting"), o.Code<Code>("joint"), AtLeast(o, 2, Parts.Torque))
        {
            OccurredAt = c.At, Station = c.Station, Person = c.Person,
        };

    // All of one kind, so that they have a mean.
    private static ImmutableArray<EnteredQuantity> AtLeast(ObjectReading o, int least, Func<JsonReading, JsonElement, EnteredQuantity> read)
    {
        var readings = o.List("readings", read);
        if (readings.Length < least)
        {
            o.Fail("readings", least == 1 ? "At least one reading is expected." : $"At least {least} readings are expected: one has no scatter.");
        }

        for (var i = 1; i < readings.Length; i++)
        {
            if (Differ(readings[i], readings[0]))
            {
                o.Fail("readings", $"All readings must be of one kind: '{readings[i].Unit}' and '{readings[0].Unit}' are not.");
                break;
            }
        }

        return readings;
    }

    private static void SameKind(ObjectReading o, string name, EnteredQuantity? value, EnteredQuantity of)
    {
        if (value is { } given && Differ(given, of))
        {
            o.Fail(name, $"'{given.Unit}' measures something else than '{of.Unit}'.");
        }
    }

    // A code that can't be read has been told already.
    private static bool Differ(EnteredQuantity a, EnteredQuantity b) =>
        UcumUnit.TryParse(a.Unit, out var one) && UcumUnit.TryParse(b.Unit, out var other) && !one.IsCommensurableWith(other);
}
