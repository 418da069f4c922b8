using System.Text.Json;
using Traceability.Domain.Primitives;
using Traceability.Domain.Quantities;

namespace Traceability.Service.Http.Reading;

/// <summary>Reads parts that several types of fact have.</summary>
internal static class Parts
{
    private static readonly Shape UnitShape = new("item", "serial");
    private static readonly Shape LotShape = new("item", "lot");
    private static readonly Shape QuantityShape = new("value", "unit");
    private static readonly UcumUnit TorqueUnit = UcumUnit.Parse("N.m");

    public static UnitKey Unit(JsonReading reading, JsonElement element)
    {
        using var o = reading.Open(element, UnitShape);
        return new(o.Code<ItemNumber>("item"), o.Code<SerialNumber>("serial"));
    }

    public static LotKey Lot(JsonReading reading, JsonElement element)
    {
        using var o = reading.Open(element, LotShape);
        return new(o.Code<ItemNumber>("item"), o.Code<LotNumber>("lot"));
    }

    public static EnteredQuantity Quantity(JsonReading reading, JsonElement element)
    {
        using var o = reading.Open(element, QuantityShape);
        return new(o.Number("value"), o.UnitOfMeasure("unit"));
    }

    /// <summary>An amount of something: a quantity that is not negative.</summary>
    public static EnteredQuantity Amount(JsonReading reading, JsonElement element)
    {
        var quantity = Quantity(reading, element);
        if (quantity.Value < 0)
        {
            reading.Fail("value", "An amount must not be negative.");
        }

        return quantity;
    }

    /// <summary>The standard uncertainty of a value, in the value's own unit; null where none is stated.</summary>
    public static decimal? StandardUncertainty(ObjectReading o)
    {
        if (!o.Has("standardUncertainty"))
        {
            return null;
        }

        var uncertainty = o.Number("standardUncertainty");
        if (uncertainty < 0)
        {
            o.Fail("standardUncertainty", "A standard uncertainty must not be negative: it is a standard deviation.");
        }

        return uncertainty;
    }

    /// <summary>A quantity of the dimension of a torque.</summary>
    public static EnteredQuantity Torque(JsonReading reading, JsonElement element)
    {
        var torque = Quantity(reading, element);
        if (UcumUnit.TryParse(torque.Unit, out var unit) && !unit.IsCommensurableWith(TorqueUnit))
        {
            reading.Fail("unit", $"A torque is expected, such as in N.m; '{unit.Code}' measures {unit.Dimension.Name}.");
        }

        return torque;
    }

    /// <summary>Tells a least quantity that is above the most, or of another kind.</summary>
    public static void CheckOrder(ObjectReading o, string maxName, EnteredQuantity? min, EnteredQuantity? max)
    {
        if (min is not { } least || max is not { } most
            || !UcumUnit.TryParse(least.Unit, out var leastUnit) || !UcumUnit.TryParse(most.Unit, out var mostUnit))
        {
            return;
        }

        if (!new Quantity(least.Value, leastUnit).TryCompareTo(new Quantity(most.Value, mostUnit), out var order))
        {
            o.Fail(maxName, $"The least and the most must be of one kind: '{leastUnit.Code}' measures {leastUnit.Dimension.Name}, '{mostUnit.Code}' measures {mostUnit.Dimension.Name}.");
        }
        else if (order > 0)
        {
            o.Fail(maxName, $"The most, {most}, is below the least, {least}.");
        }
    }
}
