using System.Text;

namespace Traceability.Simulator.Plant;

/// <summary>A small pseudo-random generator that gives the same numbers on every machine and runtime.</summary>
/// <remarks>
/// SplitMix64. Source: Steele, Lea, Flood, "Fast Splittable Pseudorandom Number Generators", OOPSLA 2014.
/// Only integer arithmetic and exactly rounded additions and divisions are used, so no result depends on a maths library.
/// </remarks>
internal sealed class SplitMix(ulong state)
{
    private ulong _state = state;

    /// <summary>A stream of its own for a name, so that trouble at one unit moves nothing at another.</summary>
    public static SplitMix For(ulong seed, string name)
    {
        // FNV-1a, 64 bit, over the UTF-8 of the name.
        var hash = 14695981039346656037UL;
        foreach (var b in Encoding.UTF8.GetBytes(name))
        {
            hash = (hash ^ b) * 1099511628211UL;
        }

        return new(new SplitMix(seed ^ hash).Next());
    }

    /// <summary>The next 64 bits.</summary>
    public ulong Next()
    {
        _state += 0x9E3779B97F4A7C15UL;
        var z = _state;
        z = (z ^ (z >> 30)) * 0xBF58476D1CE4E5B9UL;
        z = (z ^ (z >> 27)) * 0x94D049BB133111EBUL;
        return z ^ (z >> 31);
    }

    /// <summary>A whole number from <paramref name="from"/> to <paramref name="to"/>, both included.</summary>
    public int Int(int from, int to) => from + (int)(Next() % (ulong)(to - from + 1));

    /// <summary>True so many times in ten thousand.</summary>
    public bool Chance(int inTenThousand) => Int(0, 9_999) < inTenThousand;

    /// <summary>A bell-shaped value: the sum of twelve uniform ones, so it never leaves six deviations.</summary>
    public decimal Bell(decimal mean, decimal deviation, int digits)
    {
        var sum = 0m;
        for (var i = 0; i < 12; i++)
        {
            sum += Int(0, 1_000_000);
        }

        return Math.Round(mean + (deviation * ((sum / 1_000_000m) - 6m)), digits, MidpointRounding.AwayFromZero);
    }

    /// <summary>An id in the form of a random UUID (RFC 9562, version 4), from this stream.</summary>
    public Guid Id()
    {
        Span<byte> bytes = stackalloc byte[16];
        BitConverter.TryWriteBytes(bytes, Next());
        BitConverter.TryWriteBytes(bytes[8..], Next());
        if (!BitConverter.IsLittleEndian)
        {
            bytes[..8].Reverse();
            bytes[8..].Reverse();
        }

        bytes[6] = (byte)((bytes[6] & 0x0F) | 0x40);
        bytes[8] = (byte)((bytes[8] & 0x3F) | 0x80);
        return new(bytes, bigEndian: true);
    }

    /// <summary>One of these.</summary>
    public T Pick<T>(IReadOnlyList<T> of) => of[Int(0, of.Count - 1)];
}
