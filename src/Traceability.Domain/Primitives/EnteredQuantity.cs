namespace Traceability.Domain.Primitives;

/// <summary>A value with its unit exactly as it was entered or reported, so that it can be shown so.</summary>
/// <param name="Value">The decimal digits as reported.</param>
/// <param name="Unit">The unit as a case-sensitive UCUM code, "1" for a bare number.</param>
public readonly record struct EnteredQuantity(decimal Value, string Unit)
{
    /// <inheritdoc />
    public override string ToString() =>
        string.Create(System.Globalization.CultureInfo.InvariantCulture, $"{Value} {Unit}");
}
