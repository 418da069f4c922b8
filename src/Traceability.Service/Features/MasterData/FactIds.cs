using System.Security.Cryptography;
using System.Text;

namespace Traceability.Service.Features.MasterData;

/// <summary>Makes ids that follow from a content: a UUID of version 8 from a namespace and a SHA-256.</summary>
/// <remarks>Source: RFC 9562, section 5.8 and the worked example of appendix B.2 (name-based with SHA-256).</remarks>
public static class FactIds
{
    // Drawn once for this format; ids of facts from master-data files are made in it.
    private static readonly Guid MasterData = new("9b6e6a1c-3f0e-4c58-9a35-61f2b0a7d7c4");

    /// <summary>The id of a fact of a master-data file.</summary>
    public static Guid OfContent(ReadOnlySpan<byte> contentHash) => OfName(MasterData, contentHash);

    /// <summary>The UUIDv8 of a name in a namespace.</summary>
    public static Guid OfName(Guid space, ReadOnlySpan<byte> name)
    {
        Span<byte> input = new byte[16 + name.Length];
        space.TryWriteBytes(input, bigEndian: true, out _);
        name.CopyTo(input[16..]);
        var id = SHA256.HashData(input).AsSpan(0, 16);
        id[6] = (byte)((id[6] & 0x0F) | 0x80);
        id[8] = (byte)((id[8] & 0x3F) | 0x80);
        return new Guid(id, bigEndian: true);
    }

    /// <summary>The UUIDv8 of a text in a namespace, as UTF-8.</summary>
    public static Guid OfName(Guid space, string name) => OfName(space, Encoding.UTF8.GetBytes(name));
}
