using System.IO.Pipelines;
using System.Runtime.CompilerServices;
using Traceability.Domain.Facts;
using Traceability.Domain.Primitives;
using Traceability.Domain.ProductUnits;
using Traceability.Service.Http;
using Traceability.Service.Http.Reading;
using Traceability.Service.Ingest;

namespace Traceability.Service.Features.History;

/// <summary>A line of the file: a fact, or why it is none.</summary>
internal sealed record HistoryEntry(int Line, PostedFact? Fact, Refusal? Refusal);

/// <summary>Reads a file of history in chunks that one transaction each is to take.</summary>
internal sealed class HistoryChunks(TerminalClock terminals, int chunkMax)
{
    // As many bytes as are kept of lines at a time; a line may have 256 KiB.
    private const long BytesMax = 16 << 20;

    private readonly int _mixedMax = Math.Max(1, chunkMax / 10);

    /// <summary>The chunks, in order. A chunk with facts about anything but units is small: live posts wait while it is stored.</summary>
    public async IAsyncEnumerable<List<HistoryEntry>> ReadAsync(
        PipeReader body, string sender, ClockReading clock, [EnumeratorCancellation] CancellationToken cancellation)
    {
        List<HistoryEntry> chunk = [];
        var bytes = 0L;
        var isMixed = false;
        await foreach (var (number, line) in NdjsonLines.ReadAsync(body, (int)BodyLimit.Fact.Bytes, cancellation))
        {
            var entry = line is { } json
                ? Read(number, json, sender, clock)
                : new(number, null, NdjsonLines.TooLong((int)BodyLimit.Fact.Bytes));
            var isOther = entry.Fact is { Fact: not (IUnitFact or RecordCorrected or RecordVoided) };
            if (chunk.Count >= chunkMax || bytes >= BytesMax || ((isMixed || isOther) && chunk.Count >= _mixedMax))
            {
                yield return chunk;
                chunk = [];
                bytes = 0;
                isMixed = false;
            }

            chunk.Add(entry);
            bytes += line?.Length ?? 0;
            isMixed |= isOther;
        }

        if (chunk.Count > 0)
        {
            yield return chunk;
        }
    }

    private HistoryEntry Read(int number, byte[] json, string sender, ClockReading clock)
    {
        var reading = FactReader.Read(json);
        if (reading.Fact is not { } read)
        {
            return new(number, null, new("fact-malformed", RefusalKind.Malformed, "The fact can't be read. Every fault is listed with its place.", reading.Faults));
        }

        var posted = new PostedFact(read.Id, read.ContentHash, read.Fact with { Clock = clock, SentBy = sender });
        return new(number, posted, terminals.CheckFuture(posted.Fact));
    }
}
