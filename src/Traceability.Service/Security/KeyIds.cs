namespace Traceability.Service.Security;

/// <summary>Ids of keys.</summary>
internal static class KeyIds
{
    /// <summary>A version 4 UUID (RFC 9562, section 5.4) of 16 random bytes.</summary>
    public static Guid FromRandom(ReadOnlySpan<byte> random)
    {
        Span<byte> bytes = stackalloc byte[16];
        random.CopyTo(bytes);
        bytes[6] = (byte)((bytes[6] & 0x0F) | 0x40);
        bytes[8] = (byte)((bytes[8] & 0x3F) | 0x80);
        return new(bytes, bigEndian: true);
    }
}
