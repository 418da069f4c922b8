using Traceability.Domain.Facts;
using Traceability.Domain.Judging;
using Traceability.Domain.Primitives;

namespace Traceability.Service.Ingest;

/// <summary>A well-formed fact on its way into the store.</summary>
/// <param name="Id">The id that its sender chose.</param>
/// <param name="ContentHash">SHA-256 of the canonical content, to tell a repeat from a conflict.</param>
/// <param name="Fact">The fact, with its clock reading and sender set.</param>
public sealed record PostedFact(Guid Id, byte[] ContentHash, Fact Fact);

/// <summary>What became of a fact.</summary>
public abstract record IngestAnswer
{
    private IngestAnswer()
    {
    }

    /// <summary>It is stored, and the transaction that stored it is durable.</summary>
    /// <param name="Posted">The fact as it was posted.</param>
    /// <param name="Stream">The stream that it belongs to.</param>
    /// <param name="Version">Its place in that stream, from 1.</param>
    /// <param name="RecordedAt">When it was stored.</param>
    /// <param name="IsRepeat">It had been stored before, with the same content.</param>
    /// <param name="Findings">The findings that it raised when it was stored.</param>
    public sealed record Recorded(
        PostedFact Posted, string Stream, int Version, DateTimeOffset RecordedAt, bool IsRepeat, ImmutableArray<Finding> Findings) : IngestAnswer;

    /// <summary>It can't be stored; nothing of it is.</summary>
    public sealed record Refused(Refusal Reason) : IngestAnswer;

    /// <summary>It may or may not be stored: send it again, with the same id.</summary>
    /// <param name="RetryAfter">When to try again.</param>
    /// <param name="Reason">What is in the way, for a person.</param>
    public sealed record Unavailable(TimeSpan RetryAfter, string Reason) : IngestAnswer;
}

/// <summary>The one way into the store.</summary>
public interface IIngest
{
    /// <summary>Stores the fact with others in one transaction, and answers when that is durable.</summary>
    Task<IngestAnswer> SubmitAsync(PostedFact fact, CancellationToken cancellation);

    /// <summary>Stores facts about units in one transaction, all of them or none: if one is refused, all are, for that reason.</summary>
    /// <remarks>The answers are in the order of the facts.</remarks>
    Task<ImmutableArray<IngestAnswer>> SubmitTogetherAsync(IReadOnlyList<PostedFact> facts, CancellationToken cancellation);

    /// <summary>Judges a unit again from its stored facts and replaces its rows.</summary>
    /// <param name="unit">The unit, as item/serial.</param>
    /// <param name="askedAt">The moment of the request that this answers; later requests stay open.</param>
    /// <param name="cancellation">Gives up waiting; the work may still be done.</param>
    Task RejudgeAsync(string unit, DateTimeOffset askedAt, CancellationToken cancellation);
}
