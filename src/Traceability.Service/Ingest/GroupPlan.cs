using Traceability.Domain.Facts;
using Traceability.Domain.Primitives;

namespace Traceability.Service.Ingest;

/// <summary>A fact that waits for its answer.</summary>
internal sealed class PendingFact(PostedFact posted)
{
    private readonly TaskCompletionSource<IngestAnswer> _answered = new(TaskCreationOptions.RunContinuationsAsynchronously);

    public PostedFact Posted { get; } = posted;

    public Task<IngestAnswer> Answered => _answered.Task;

    public void Answer(IngestAnswer answer) => _answered.TrySetResult(answer);
}

/// <summary>A unit that waits to be judged again.</summary>
internal sealed class PendingRejudge(string unit, DateTimeOffset askedAt)
{
    private readonly TaskCompletionSource _done = new(TaskCreationOptions.RunContinuationsAsynchronously);

    public string Unit { get; } = unit;

    public DateTimeOffset AskedAt { get; } = askedAt;

    public Task Done => _done.Task;

    public void Finish() => _done.TrySetResult();

    public void Fail(Exception exception) => _done.TrySetException(exception);
}

/// <summary>A fact to append.</summary>
internal sealed record Append(string Stream, int Version, PostedFact Posted, Fact Fact, string? Findings);

/// <summary>A stream that isn't a unit's, while a group of facts is put together.</summary>
internal sealed class ReferenceDraft(string stream, ImmutableArray<RecordedFact> stored)
{
    public string Stream { get; } = stream;

    public int StoredVersion { get; } = stored.Length;

    public ImmutableArray<RecordedFact> Facts { get; private set; } = stored;

    public void Add(RecordedFact fact) => Facts = Facts.Add(fact);
}

/// <summary>Everything that one transaction is to store, and what to answer when it is durable.</summary>
internal sealed class GroupPlan
{
    public required DateTimeOffset RecordedAt { get; init; }

    /// <summary>The reference clock that the judgements were made at.</summary>
    public required long ReferenceSeq { get; set; }

    public List<Append> Appends { get; } = [];

    public Dictionary<string, UnitDraft> Units { get; } = new(StringComparer.Ordinal);

    public Dictionary<string, ReferenceDraft> References { get; } = new(StringComparer.Ordinal);

    /// <summary>The version that each component's stream had when the judgements looked at it; 0 for none.</summary>
    public Dictionary<string, int> ComponentVersions { get; } = new(StringComparer.Ordinal);

    /// <summary>Components whose place in a parent changes, with that parent.</summary>
    public HashSet<(UnitKey Component, UnitKey Parent)> Moved { get; } = [];

    public List<PendingRejudge> Rejudges { get; } = [];

    public List<(PendingFact Pending, IngestAnswer Answer)> Answers { get; } = [];

    /// <summary>The units whose rows are written: those with new facts and those judged again.</summary>
    public IEnumerable<UnitDraft> Judged => Units.Values.Where(u => u.Rows is not null);

    public IEnumerable<ReferenceDraft> ChangedReferences => References.Values.Where(r => r.Facts.Length > r.StoredVersion);

    public bool IsEmpty => Appends.Count == 0 && Rejudges.Count == 0;
}
