using Traceability.Domain.Facts;
using Traceability.Domain.Primitives;
using Traceability.Service.Http.Reading;
using Traceability.Service.Ingest;
using Traceability.Service.Security;

namespace Traceability.Service.Features.Recording;

/// <summary>The way of one fact from its bytes to its answer: read, allow, store.</summary>
internal sealed class FactIntake(IIngest ingest, TerminalClock terminals)
{
    /// <summary>Reads and stores one fact; what can't be stored comes back as a refusal, whole.</summary>
    public Task<IngestAnswer> TakeAsync(ReadOnlyMemory<byte> json, Caller caller, ClockReading clock, CancellationToken cancellation)
    {
        var reading = FactReader.Read(json);
        if (reading.Fact is not { } read)
        {
            return Refused(new("fact-malformed", RefusalKind.Malformed, "The fact can't be read. Every fault is listed with its place.", reading.Faults));
        }

        var fact = read.Fact with { Clock = clock, SentBy = caller.Name };
        var refusal = FactPermissions.Check(caller, fact) ?? terminals.CheckFuture(fact);
        return refusal is not null ? Refused(refusal) : ingest.SubmitAsync(new(read.Id, read.ContentHash, fact), cancellation);
    }

    private static Task<IngestAnswer> Refused(Refusal refusal) => Task.FromResult<IngestAnswer>(new IngestAnswer.Refused(refusal));
}
