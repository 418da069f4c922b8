namespace Traceability.Domain.Quantities;

/// <summary>What a unit is worth: factor × π^power, in the base units of the dimension.</summary>
/// <param name="Factor">The rational part, exact.</param>
/// <param name="PiPower">How often π is a factor; kept apart so that degrees to turns stays exact.</param>
/// <param name="Dimension">The powers of the base dimensions.</param>
internal readonly record struct UcumMagnitude(Ratio Factor, int PiPower, Dimension Dimension)
{
    /// <summary>A factor longer than this is refused: no real unit needs it.</summary>
    public const int FactorBitsMax = 512;

    public static UcumMagnitude One { get; } = new(Ratio.One, 0, default);

    /// <summary>This times <paramref name="other"/> to the power; false if the outcome is beyond any real unit.</summary>
    public bool TryMultiply(UcumMagnitude other, int power, out UcumMagnitude product)
    {
        var fits = Dimension.TryMultiply(other.Dimension, power, out var dimension)
            && other.Factor.Bits * Math.Abs((long)power) <= 2 * FactorBitsMax;
        product = fits ? new(Factor * other.Factor.Power(power), PiPower + (other.PiPower * power), dimension) : One;
        return fits && product.Factor.Bits <= FactorBitsMax && Math.Abs(product.PiPower) <= Dimension.PowerMax;
    }
}
