using System.Buffers.Binary;
using System.Security.Cryptography;

namespace Traceability.Client.Outbox.Storage;

/// <summary>
/// How far the outbox had got, kept beside its file. SQLite takes a log whose tail was cut off, or changed, as one that ends
/// earlier, and says nothing: with the mark it shows.
/// </summary>
/// <remarks>
/// It is written after each commit and not forced to the disk: after a power loss it may be behind the file, which is no
/// sign of anything, and never ahead of it. A mark that can't be read says nothing.
/// </remarks>
internal sealed class OutboxMark : IDisposable
{
    public const string Name = "outbox.mark";
    private const int Length = 8 + 8 + 8 + SHA256.HashSizeInBytes;

    private readonly FileStream file;

    private OutboxMark(FileStream file) => this.file = file;

    public static OutboxMark Open(string folder) => new(new(Path.Combine(folder, Name), FileMode.OpenOrCreate, FileAccess.ReadWrite, FileShare.Read, bufferSize: 0));

    /// <summary>The last number that was given, and how many facts were unsent or refused; null if nothing can be said.</summary>
    public (long Last, long Open)? Read()
    {
        var bytes = new byte[Length];
        return RandomAccess.Read(file.SafeFileHandle, bytes, 0) == Length && SHA256.HashData(bytes.AsSpan(0, 24)).AsSpan().SequenceEqual(bytes.AsSpan(24))
            ? (BinaryPrimitives.ReadInt64LittleEndian(bytes.AsSpan(8)), BinaryPrimitives.ReadInt64LittleEndian(bytes.AsSpan(16)))
            : null;
    }

    public void Write(long last, long open)
    {
        var bytes = new byte[Length];
        "TRMARK1\n"u8.CopyTo(bytes);
        BinaryPrimitives.WriteInt64LittleEndian(bytes.AsSpan(8), last);
        BinaryPrimitives.WriteInt64LittleEndian(bytes.AsSpan(16), open);
        SHA256.HashData(bytes.AsSpan(0, 24), bytes.AsSpan(24));
        RandomAccess.Write(file.SafeFileHandle, bytes, 0);
    }

    public void Dispose() => file.Dispose();
}
