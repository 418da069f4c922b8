using System.Security.Cryptography;
using System.Text;
using Traceability.Domain.Facts;
using Traceability.Domain.Primitives;
using Traceability.Service.Ingest;
using Traceability.Service.Storage;

namespace Traceability.Service.Features.Containments;

/// <summary>A fact of the service's own could not be stored now.</summary>
internal sealed class CaseNotStoredException(IngestAnswer.Unavailable later) : Exception(later.Reason)
{
    /// <summary>When to try again, and what is in the way.</summary>
    public IngestAnswer.Unavailable Later => later;
}

/// <summary>Records what the service itself finds and does about cases.</summary>
internal sealed class CaseFacts(IIngest ingest)
{
    /// <summary>The name that such facts are sent by, where no person's key asked for them.</summary>
    public const string Service = "service";

    /// <summary>The most units in one fact.</summary>
    public const int UnitsMax = 1_000;

    /// <summary>Stores a fact; null, or the refusal.</summary>
    /// <param name="name">What tells it from every other one: the same is stored once.</param>
    /// <param name="fact">The fact.</param>
    /// <param name="cancellation">Gives up waiting.</param>
    /// <exception cref="CaseNotStoredException">It may or may not be stored.</exception>
    public async Task<Refusal?> RecordAsync(string name, Fact fact, CancellationToken cancellation)
    {
        var content = SHA256.HashData(Encoding.UTF8.GetBytes(FactCodec.Serialize(fact)));
        return await ingest.SubmitAsync(new(IdOf(name), content, fact), cancellation) switch
        {
            IngestAnswer.Recorded => null,
            IngestAnswer.Refused refused => refused.Reason,
            IngestAnswer.Unavailable later => throw new CaseNotStoredException(later),
            _ => throw new System.Diagnostics.UnreachableException(),
        };
    }

    // A UUID of the service's own form (RFC 9562, version 8), made of what the fact is about.
    private static Guid IdOf(string name)
    {
        var bytes = SHA256.HashData(Encoding.UTF8.GetBytes(name)).AsSpan(0, 16);
        bytes[6] = (byte)((bytes[6] & 0x0F) | 0x80);
        bytes[8] = (byte)((bytes[8] & 0x3F) | 0x80);
        return new(bytes, bigEndian: true);
    }
}
