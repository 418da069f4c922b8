namespace Traceability.Service.Tests.Poison;

/// <summary>Numbers that look random and are the same for the same seed, on every machine and with every runtime.</summary>
/// <remarks>SplitMix64: Steele, Lea, Flood, "Fast splittable pseudorandom number generators", OOPSLA 2014, figure 16.</remarks>
internal sealed class Dice(int seed)
{
    private ulong _state = (ulong)seed;

    /// <summary>A number from 0 up to, not including, the limit.</summary>
    public int Next(int limit) => (int)(Next() % (ulong)limit);

    /// <summary>A number from the first up to, not including, the second.</summary>
    public int Next(int from, int limit) => from + Next(limit - from);

    /// <summary>A number from 0 up to, not including, 1.</summary>
    public double Share() => (Next() >> 11) * (1.0 / (1UL << 53));

    private ulong Next()
    {
        _state = unchecked(_state + 0x9E3779B97F4A7C15UL);
        var z = _state;
        z = unchecked((z ^ (z >> 30)) * 0xBF58476D1CE4E5B9UL);
        z = unchecked((z ^ (z >> 27)) * 0x94D049BB133111EBUL);
        return z ^ (z >> 31);
    }
}
