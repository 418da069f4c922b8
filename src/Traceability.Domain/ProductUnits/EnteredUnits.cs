using Traceability.Domain.Quantities;

namespace Traceability.Domain.ProductUnits;

/// <summary>Units of measure as entered.</summary>
internal static class EnteredUnits
{
    /// <summary>Whether values in one unit can be converted to the other: both are known and of one kind.</summary>
    public static bool AreComparable(string entered, string expected) =>
        UcumUnit.TryParse(entered, out var a) && UcumUnit.TryParse(expected, out var b) && a.IsCommensurableWith(b);
}
