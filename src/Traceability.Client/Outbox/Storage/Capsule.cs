using System.Buffers.Binary;
using System.Security.Cryptography;
using System.Text.Json;
using System.Text.Json.Serialization;

namespace Traceability.Client.Outbox.Storage;

/// <summary>What never changes of an entry.</summary>
/// <param name="Number">Its place.</param>
/// <param name="FactId">The fact's id.</param>
/// <param name="Type">The fact's type.</param>
/// <param name="Lane">What it is about.</param>
/// <param name="IsGround">Whether what comes after may rest on it: a definition, a lot, a tool.</param>
/// <param name="Wall">When it was taken in, by the wall clock.</param>
/// <param name="Run">The run of the machine.</param>
/// <param name="UptimeMs">The steady clock, in milliseconds.</param>
/// <param name="Amends">The refused fact that it amends.</param>
internal sealed record CapsuleHead(
    [property: JsonPropertyName("n")] long Number,
    [property: JsonPropertyName("id")] Guid FactId,
    [property: JsonPropertyName("type")] string Type,
    [property: JsonPropertyName("lane")] string Lane,
    [property: JsonPropertyName("ground")] bool IsGround,
    [property: JsonPropertyName("wall")] DateTimeOffset Wall,
    [property: JsonPropertyName("run")] string Run,
    [property: JsonPropertyName("up")] long UptimeMs,
    [property: JsonPropertyName("amends")] Guid? Amends)
{
    [JsonIgnore]
    public ClockStamp Stamp => new(Wall, Run, TimeSpan.FromMilliseconds(UptimeMs));
}

/// <summary>
/// The unchanging part of an entry in a form that speaks for itself: a mark, two lengths, the head, the fact, and the SHA-256
/// of all that. It is checked whenever it is read, and can be found in the bytes of a file whose structure is broken.
/// </summary>
internal static class Capsule
{
    /// <summary>What each begins with.</summary>
    public static ReadOnlySpan<byte> Magic => "TRFACT1\n"u8;

    private const int HeadMax = 4 * 1024;
    private const int FactMax = 512 * 1024;
    private const int Overhead = 8 + 4 + 4;

    /// <summary>Writes one.</summary>
    public static byte[] Write(CapsuleHead head, ReadOnlySpan<byte> fact)
    {
        var first = JsonSerializer.SerializeToUtf8Bytes(head);
        var whole = new byte[Overhead + first.Length + fact.Length + SHA256.HashSizeInBytes];
        Magic.CopyTo(whole);
        BinaryPrimitives.WriteInt32LittleEndian(whole.AsSpan(8), first.Length);
        BinaryPrimitives.WriteInt32LittleEndian(whole.AsSpan(12), fact.Length);
        first.CopyTo(whole.AsSpan(Overhead));
        fact.CopyTo(whole.AsSpan(Overhead + first.Length));
        var content = Overhead + first.Length + fact.Length;
        SHA256.HashData(whole.AsSpan(0, content), whole.AsSpan(content));
        return whole;
    }

    /// <summary>Reads the one that these bytes begin with; false if there is none, or it was changed by a single bit.</summary>
    public static bool TryRead(ReadOnlySpan<byte> bytes, out CapsuleHead head, out ReadOnlySpan<byte> fact, out int length)
    {
        head = null!;
        fact = default;
        length = 0;
        if (bytes.Length < Overhead || !bytes.StartsWith(Magic))
        {
            return false;
        }

        var first = BinaryPrimitives.ReadInt32LittleEndian(bytes[8..]);
        var second = BinaryPrimitives.ReadInt32LittleEndian(bytes[12..]);
        if (first is < 2 or > HeadMax || second is < 2 or > FactMax || bytes.Length < Overhead + first + second + SHA256.HashSizeInBytes)
        {
            return false;
        }

        var content = Overhead + first + second;
        Span<byte> hash = stackalloc byte[SHA256.HashSizeInBytes];
        SHA256.HashData(bytes[..content], hash);
        if (!hash.SequenceEqual(bytes.Slice(content, SHA256.HashSizeInBytes)))
        {
            return false;
        }

        head = JsonSerializer.Deserialize<CapsuleHead>(bytes.Slice(Overhead, first))!;
        fact = bytes.Slice(Overhead + first, second);
        length = content + SHA256.HashSizeInBytes;
        return true;
    }

    /// <summary>Every whole one in these bytes, wherever it stands.</summary>
    public static List<(CapsuleHead Head, byte[] Whole)> FindAll(ReadOnlySpan<byte> bytes)
    {
        List<(CapsuleHead, byte[])> found = [];
        while (bytes.IndexOf(Magic) is var at and >= 0)
        {
            bytes = bytes[at..];
            if (TryRead(bytes, out var head, out _, out var length))
            {
                found.Add((head, bytes[..length].ToArray()));
                bytes = bytes[length..];
            }
            else
            {
                bytes = bytes[1..];
            }
        }

        return found;
    }
}
