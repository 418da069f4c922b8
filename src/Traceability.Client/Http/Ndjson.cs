using System.Text.Json;
using Traceability.Contracts;

namespace Traceability.Client.Http;

/// <summary>Lines of JSON, out and back.</summary>
internal static class Ndjson
{
    /// <summary>The lines as one body.</summary>
    public static byte[] Join(IReadOnlyList<ReadOnlyMemory<byte>> lines)
    {
        var body = new byte[lines.Sum(l => l.Length + 1)];
        var at = 0;
        foreach (var line in lines)
        {
            if (line.Span.IndexOfAny((byte)'\n', (byte)'\r') >= 0)
            {
                throw new ArgumentException("A fact of a batch may not hold a line break.", nameof(lines));
            }

            line.Span.CopyTo(body.AsSpan(at));
            at += line.Length;
            body[at++] = (byte)'\n';
        }

        return body;
    }

    /// <summary>What became of each line; an answer that does not fit to what was sent is none.</summary>
    public static IReadOnlyList<FactOutcome> Outcomes(ReadOnlySpan<byte> body, int sent)
    {
        var outcomes = new FactOutcome[sent];
        var number = 0;
        foreach (var range in body.Split((byte)'\n'))
        {
            var line = body[range];
            if (line.IsEmpty)
            {
                continue;
            }

            var answer = Read(line);
            if (number == sent || answer.Line != number + 1)
            {
                throw new TraceabilityUnreachableException("The answer to the batch has other lines than the batch.");
            }

            outcomes[number++] = Outcome(answer);
        }

        return number == sent ? outcomes : throw new TraceabilityUnreachableException("The answer to the batch ends before its last line.");
    }

    private static BatchLine Read(ReadOnlySpan<byte> line)
    {
        try
        {
            return JsonSerializer.Deserialize<BatchLine>(line, WireJson.Options) ?? throw new JsonException("A line is null.");
        }
        catch (JsonException e)
        {
            throw new TraceabilityUnreachableException($"A line of the answer can't be read: {e.Message}", e);
        }
    }

    private static FactOutcome Outcome(BatchLine line) => line switch
    {
        { Receipt: { } receipt } => new FactOutcome.Recorded(receipt),
        { Problem: { } problem, Status: >= 500 or 408 or 429 or 401 } => new FactOutcome.Later(problem),
        { Problem: { } problem } => new FactOutcome.Refused(problem),
        _ => throw new TraceabilityUnreachableException("A line of the answer holds neither a receipt nor a problem."),
    };
}
