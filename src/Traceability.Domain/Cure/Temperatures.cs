using Traceability.Domain.Primitives;
using Traceability.Domain.Quantities;

namespace Traceability.Domain.Cure;

/// <summary>Reads recorded temperatures as thermodynamic ones.</summary>
public static class Temperatures
{
    private static readonly UcumUnit KelvinUnit = UcumUnit.Parse("K");

    /// <summary>The temperature in kelvin, converted exactly and then taken as a double; false where it is none, or not above absolute zero.</summary>
    public static bool TryKelvin(EnteredQuantity entered, out double kelvin)
    {
        kelvin = 0;
        if (!UcumUnit.TryParse(entered.Unit, out var unit)
            || !new Quantity(entered.Value, unit).TryConvertTo(KelvinUnit, out var converted, out _)
            || converted.Value <= 0)
        {
            return false;
        }

        kelvin = (double)converted.Value;
        return true;
    }
}
