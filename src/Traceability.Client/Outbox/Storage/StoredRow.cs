using System.Buffers.Binary;
using System.Security.Cryptography;
using System.Text;
using System.Text.Json;
using System.Text.Json.Serialization;
using Traceability.Contracts;

namespace Traceability.Client.Outbox.Storage;

/// <summary>What became of an entry: the part that changes.</summary>
internal sealed record Settlement
{
    public DateTimeOffset? At { get; init; }

    public FactReceipt? Receipt { get; init; }

    public Problem? Problem { get; init; }

    public string? DecidedBy { get; init; }

    public string? Reason { get; init; }

    public Guid? AmendedAs { get; init; }

    [JsonConverter(typeof(JsonStringEnumConverter<ClockProof>))]
    public ClockProof? Clock { get; init; }

    public string Write() => JsonSerializer.Serialize(this, WireJson.Options);

    public static Settlement Read(string text) => JsonSerializer.Deserialize<Settlement>(text, WireJson.Options)!;
}

/// <summary>A row of the file: an entry's capsule, where it stands, and a checksum over both.</summary>
/// <param name="Number">Its place.</param>
/// <param name="Whole">The capsule.</param>
/// <param name="State">Where it stands.</param>
/// <param name="Settled">The settlement as text; null while it waits and never was refused.</param>
internal sealed record StoredRow(long Number, byte[] Whole, OutboxState State, string? Settled)
{
    /// <summary>The SHA-256 over what may change and the capsule's own.</summary>
    public byte[] Sum()
    {
        var settled = Settled is null ? [] : Encoding.UTF8.GetBytes(Settled);
        var text = new byte[8 + 4 + 1 + settled.Length + SHA256.HashSizeInBytes];
        BinaryPrimitives.WriteInt64LittleEndian(text, Number);
        BinaryPrimitives.WriteInt32LittleEndian(text.AsSpan(8), (int)State);
        text[12] = Settled is null ? (byte)0 : (byte)1;
        settled.CopyTo(text.AsSpan(13));
        Whole.AsSpan(Math.Max(0, Whole.Length - SHA256.HashSizeInBytes)).CopyTo(text.AsSpan(13 + settled.Length));
        return SHA256.HashData(text);
    }

    /// <summary>The fact, as it is sent.</summary>
    public ReadOnlyMemory<byte> Fact() =>
        Capsule.TryRead(Whole, out _, out var fact, out var length)
            ? Whole.AsMemory(length - SHA256.HashSizeInBytes - fact.Length, fact.Length)
            : throw new OutboxStorageException($"Entry {Number} of the outbox was changed on the disk. Open the outbox again to have it salvaged.");

    /// <summary>The entry that the row holds; its capsule is checked.</summary>
    public OutboxEntry ToEntry()
    {
        if (!Capsule.TryRead(Whole, out var head, out var fact, out _))
        {
            throw new OutboxStorageException($"Entry {Number} of the outbox was changed on the disk. Open the outbox again to have it salvaged.");
        }

        var settled = Settled is null ? new() : Settlement.Read(Settled);
        return new()
        {
            Number = Number,
            FactId = head.FactId,
            Type = head.Type,
            Lane = head.Lane,
            Fact = Encoding.UTF8.GetString(fact),
            EnqueuedAt = head.Wall,
            Amends = head.Amends,
            State = State,
            SettledAt = settled.At,
            Receipt = settled.Receipt,
            Problem = settled.Problem,
            DecidedBy = settled.DecidedBy,
            Reason = settled.Reason,
            AmendedAs = settled.AmendedAs,
            Clock = settled.Clock,
        };
    }
}
