namespace Traceability.Acceptance.Robustness;

/// <summary>Repeatable chance: the same seed gives the same numbers on every machine. For one thread.</summary>
/// <remarks>SplitMix64. Source: Steele, Lea, Flood, "Fast Splittable Pseudorandom Number Generators", OOPSLA 2014.</remarks>
internal sealed class Dice(ulong seed)
{
    private ulong state = seed;

    /// <summary>The next 64 bits.</summary>
    public ulong Next()
    {
        state += 0x9E3779B97F4A7C15UL;
        var z = state;
        z = (z ^ (z >> 30)) * 0xBF58476D1CE4E5B9UL;
        z = (z ^ (z >> 27)) * 0x94D049BB133111EBUL;
        return z ^ (z >> 31);
    }

    /// <summary>A whole number from <paramref name="from"/> to <paramref name="to"/>, both included.</summary>
    public int Int(int from, int to) => from + (int)(Next() % (ulong)(to - from + 1));

    /// <summary>True in so many of a hundred throws.</summary>
    public bool Chance(int inHundred) => Int(0, 99) < inHundred;

    /// <summary>One of them.</summary>
    public T Pick<T>(params IReadOnlyList<T> from) => from[Int(0, from.Count - 1)];

    /// <summary>An id in the form of a UUID, never all zeros.</summary>
    public Guid Id()
    {
        Span<byte> bytes = stackalloc byte[16];
        BitConverter.TryWriteBytes(bytes, Next());
        BitConverter.TryWriteBytes(bytes[8..], Next() | 1);
        return new(bytes);
    }

    /// <summary>The same entries in another order.</summary>
    public List<T> Shuffled<T>(IEnumerable<T> entries)
    {
        var list = entries.ToList();
        for (var i = list.Count - 1; i > 0; i--)
        {
            var j = Int(0, i);
            (list[i], list[j]) = (list[j], list[i]);
        }

        return list;
    }
}
