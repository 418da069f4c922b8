using System.Security.Cryptography;

namespace Traceability.Client;

/// <summary>Ids of facts: chosen once by the sender, the same over every retry.</summary>
public static class FactIds
{
    /// <summary>A new version 4 UUID (RFC 9562, section 5.4) from the system's random numbers.</summary>
    public static Guid Next()
    {
        Span<byte> bytes = stackalloc byte[16];
        RandomNumberGenerator.Fill(bytes);
        bytes[6] = (byte)((bytes[6] & 0x0F) | 0x40);
        bytes[8] = (byte)((bytes[8] & 0x3F) | 0x80);
        return new(bytes, bigEndian: true);
    }
}
