using System.Buffers;
using System.IO.Pipelines;
using System.Runtime.CompilerServices;
using Traceability.Domain.Primitives;

namespace Traceability.Service.Http;

/// <summary>Reads newline-delimited JSON line by line, without holding the whole body.</summary>
internal static class NdjsonLines
{
    /// <summary>The refusal of a line that is too long.</summary>
    public static Refusal TooLong(int bytesMax) =>
        Refusal.At("body-too-large", RefusalKind.Malformed, string.Empty, $"A line has at most {bytesMax} bytes.");

    /// <summary>The lines that are not blank, with their number from 1; null for a line that is too long.</summary>
    public static async IAsyncEnumerable<(int Number, byte[]? Line)> ReadAsync(
        PipeReader body, int bytesMax, [EnumeratorCancellation] CancellationToken cancellation)
    {
        var number = 0;
        var skipping = false;
        while (true)
        {
            var read = await body.ReadAsync(cancellation);
            var buffer = read.Buffer;
            while (TryTakeLine(ref buffer, read.IsCompleted, out var line))
            {
                number++;
                var tooLong = skipping || line.Length > bytesMax;
                skipping = false;
                if (tooLong)
                {
                    yield return (number, null);
                }
                else if (!IsBlank(line))
                {
                    yield return (number, line.ToArray());
                }
            }

            if (buffer.Length > bytesMax)
            {
                // The line can't be taken whole: let go of what is there and wait for its end.
                skipping = true;
                buffer = buffer.Slice(buffer.End);
            }

            body.AdvanceTo(buffer.Start, buffer.End);
            if (read.IsCompleted)
            {
                if (skipping)
                {
                    yield return (number + 1, null);
                }

                yield break;
            }
        }
    }

    private static bool TryTakeLine(ref ReadOnlySequence<byte> buffer, bool isLast, out ReadOnlySequence<byte> line)
    {
        if (buffer.PositionOf((byte)'\n') is { } end)
        {
            line = buffer.Slice(0, end);
            buffer = buffer.Slice(buffer.GetPosition(1, end));
            return true;
        }

        line = buffer;
        buffer = isLast ? buffer.Slice(buffer.End) : buffer;
        return isLast && !line.IsEmpty;
    }

    private static bool IsBlank(ReadOnlySequence<byte> line)
    {
        foreach (var segment in line)
        {
            if (segment.Span.ContainsAnyExcept((byte)' ', (byte)'\t', (byte)'\r'))
            {
                return false;
            }
        }

        return true;
    }
}
