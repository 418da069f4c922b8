namespace Traceability.Service.Ingest;

/// <summary>The identity of a derived row within its unit: a hash of everything that the row says.</summary>
/// <remarks>FNV-1a (Fowler, Noll, Vo), 64 bits: the same on every machine and in every run. A unit has some hundred rows.</remarks>
internal struct RowHash
{
    private ulong _hash = 14695981039346656037UL;

    public RowHash()
    {
    }

    /// <summary>The value so far.</summary>
    public readonly long Value => unchecked((long)_hash);

    public void Add(string? text)
    {
        // A length first, so that neighbouring texts can't run into each other; -1 tells null from empty.
        Add(text is null ? -1L : text.Length);
        if (text is not null)
        {
            foreach (var c in text)
            {
                Mix(c);
            }
        }
    }

    public void Add(long number)
    {
        Mix((uint)number);
        Mix((uint)(number >> 32));
    }

    /// <summary>Adds a number with the digits that it was written with: 1.0 is not 1.</summary>
    public void Add(decimal number)
    {
        Span<int> bits = stackalloc int[4];
        decimal.GetBits(number, bits);
        foreach (var part in bits)
        {
            Mix((uint)part);
        }
    }

    public void Add(bool value) => Mix(value ? 1u : 2u);

    public void Add(DateTimeOffset? at) => Add(at?.UtcTicks ?? -1L);

    public void Add(Guid id)
    {
        Span<byte> bytes = stackalloc byte[16];
        id.TryWriteBytes(bytes);
        foreach (var b in bytes)
        {
            Mix(b);
        }
    }

    private void Mix(uint value) => _hash = unchecked((_hash ^ value) * 1099511628211UL);
}
