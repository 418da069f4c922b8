using System.Buffers.Binary;
using System.Text;

namespace Traceability.Service.Ingest.Bulk;

/// <summary>Rows as the binary form of COPY has them, in memory.</summary>
/// <remarks>
/// Sources: PostgreSQL manual, COPY, "Binary Format"; the values as the types' receive functions read them (timestamptz_recv,
/// date_recv, interval_recv, jsonb_recv): the driver writes the same, at several times the cost a value. Times beyond microseconds
/// are cut, and the first and last moment are the infinite ones, as the driver has it.
/// </remarks>
internal sealed class CopyBuffer(int bytes)
{
    private static readonly long EpochTicks = DateTimeOffset.Parse("2000-01-01T00:00:00Z", System.Globalization.CultureInfo.InvariantCulture).UtcTicks;
    private static readonly int EpochDay = new DateOnly(2000, 1, 1).DayNumber;
    private static readonly UTF8Encoding Utf8 = new(encoderShouldEmitUTF8Identifier: false, throwOnInvalidBytes: true);

    private byte[] _bytes = new byte[bytes * 2];

    /// <summary>How many bytes were written since it was cleared.</summary>
    public int Length { get; private set; }

    /// <summary>These bytes; until the next write.</summary>
    public ReadOnlySpan<byte> Written => _bytes.AsSpan(0, Length);

    /// <summary>Forgets what was written.</summary>
    public void Clear() => Length = 0;

    /// <summary>What comes before the first row: the signature, no flags, no extension.</summary>
    public void Begin()
    {
        ReadOnlySpan<byte> header = [.. "PGCOPY\n"u8, 0xff, .. "\r\n\0"u8, 0, 0, 0, 0, 0, 0, 0, 0];
        header.CopyTo(Take(header.Length));
    }

    /// <summary>What comes after the last row.</summary>
    public void End() => BinaryPrimitives.WriteInt16BigEndian(Take(2), -1);

    public void BeginRow(int columns) => BinaryPrimitives.WriteInt16BigEndian(Take(2), checked((short)columns));

    public void Text(string? text)
    {
        if (text is null)
        {
            Null();
            return;
        }

        Reserve(4 + Utf8.GetMaxByteCount(text.Length));
        var length = Utf8.GetBytes(text, _bytes.AsSpan(Length + 4));
        WriteLength(length);
        Length += length;
    }

    public void Integer(int value)
    {
        WriteLength(4);
        BinaryPrimitives.WriteInt32BigEndian(Take(4), value);
    }

    public void Bigint(long value)
    {
        WriteLength(8);
        BinaryPrimitives.WriteInt64BigEndian(Take(8), value);
    }

    public void Uuid(Guid? value)
    {
        if (value is not { } id)
        {
            Null();
            return;
        }

        WriteLength(16);
        id.TryWriteBytes(Take(16), bigEndian: true, out _);
    }

    public void Real(double? value)
    {
        if (value is not { } number)
        {
            Null();
            return;
        }

        WriteLength(8);
        BinaryPrimitives.WriteDoubleBigEndian(Take(8), number);
    }

    public void Boolean(bool? value)
    {
        if (value is not { } flag)
        {
            Null();
            return;
        }

        WriteLength(1);
        Take(1)[0] = flag ? (byte)1 : (byte)0;
    }

    public void Date(DateOnly value) => Integer(
        value == DateOnly.MaxValue ? int.MaxValue : value == DateOnly.MinValue ? int.MinValue : value.DayNumber - EpochDay);

    public void Bytes(ReadOnlySpan<byte> value)
    {
        WriteLength(value.Length);
        value.CopyTo(Take(value.Length));
    }

    /// <summary>JSON as UTF-8, with the version of the form before it.</summary>
    public void Json(byte[]? utf8)
    {
        if (utf8 is null)
        {
            Null();
            return;
        }

        WriteLength(utf8.Length + 1);
        Take(1)[0] = 1;
        utf8.CopyTo(Take(utf8.Length));
    }

    /// <summary>Whole days apart from the rest.</summary>
    public void Interval(TimeSpan? value)
    {
        if (value is not { } span)
        {
            Null();
            return;
        }

        WriteLength(16);
        var to = Take(16);
        BinaryPrimitives.WriteInt64BigEndian(to, (span.Ticks - (span.Days * TimeSpan.TicksPerDay)) / TimeSpan.TicksPerMicrosecond);
        BinaryPrimitives.WriteInt32BigEndian(to[8..], span.Days);
        BinaryPrimitives.WriteInt32BigEndian(to[12..], 0);
    }

    public void Time(DateTimeOffset? value)
    {
        if (value is not { } at)
        {
            Null();
            return;
        }

        var ticks = at.UtcTicks;
        Bigint(ticks == DateTime.MaxValue.Ticks ? long.MaxValue : ticks == DateTime.MinValue.Ticks ? long.MinValue : (ticks - EpochTicks) / TimeSpan.TicksPerMicrosecond);
    }

    private void Null() => WriteLength(-1);

    private void WriteLength(int length) => BinaryPrimitives.WriteInt32BigEndian(Take(4), length);

    private Span<byte> Take(int count)
    {
        Reserve(count);
        var taken = _bytes.AsSpan(Length, count);
        Length += count;
        return taken;
    }

    private void Reserve(int count)
    {
        if (_bytes.Length - Length < count)
        {
            Array.Resize(ref _bytes, checked(Math.Max(_bytes.Length * 2, Length + count)));
        }
    }
}
