using Traceability.Domain.Batches;
using Traceability.Domain.Containments;
using Traceability.Domain.Facts;
using Traceability.Domain.Judging;
using Traceability.Domain.Primitives;
using Traceability.Service.Storage.Containments;

namespace Traceability.Service.Ingest;

/// <summary>A fact that waits for its answer.</summary>
/// <param name="posted">The fact.</param>
/// <param name="together">The facts, this one among them, of which all or none are stored; null for one by itself.</param>
internal sealed class PendingFact(PostedFact posted, PendingTogether? together = null)
{
    // What waits goes on within Answer: see Answers.
    private readonly TaskCompletionSource<IngestAnswer> _answered = new();

    public PostedFact Posted { get; } = posted;

    public PendingTogether? Together { get; } = together;

    public Task<IngestAnswer> Answered => _answered.Task;

    public void Answer(IngestAnswer answer) => _answered.TrySetResult(answer);
}

/// <summary>Facts of which all or none are stored.</summary>
internal sealed class PendingTogether
{
    public PendingTogether(IEnumerable<PostedFact> facts) => Facts = [.. facts.Select(f => new PendingFact(f, this))];

    public ImmutableArray<PendingFact> Facts { get; }

    /// <summary>The facts that wait in a group.</summary>
    public static IEnumerable<PendingFact> FactsOf(IEnumerable<object> group) => group.SelectMany(p => p switch
    {
        PendingFact fact => [fact],
        PendingTogether together => together.Facts,
        _ => ImmutableArray<PendingFact>.Empty,
    });
}

/// <summary>Gives the answers of a group, away from the committer.</summary>
/// <remarks>
/// What waits for an answer, such as writing the response, goes on where the answer is given. A work item for each answer would
/// cost more in waking threads than the responses take; a few share them out.
/// </remarks>
internal sealed class Answers : IThreadPoolWorkItem
{
    private const int Least = 8;
    private readonly List<(PendingFact Pending, IngestAnswer Answer)> _answers;
    private readonly int _from;
    private readonly int _to;

    private Answers(List<(PendingFact Pending, IngestAnswer Answer)> answers, int from, int to)
    {
        _answers = answers;
        _from = from;
        _to = to;
    }

    /// <summary>Gives them, in as many parts as there are processors.</summary>
    /// <param name="answers">The answers.</param>
    /// <param name="isIdle">Nobody else waits: a single answer is given at once, for there is nothing that the committer could do meanwhile.</param>
    public static void Give(List<(PendingFact Pending, IngestAnswer Answer)> answers, bool isIdle)
    {
        if (isIdle && answers is [var (pending, answer)])
        {
            pending.Answer(answer);
            return;
        }

        var size = Math.Max(Least, (answers.Count + Environment.ProcessorCount - 1) / Environment.ProcessorCount);
        for (var from = 0; from < answers.Count; from += size)
        {
            ThreadPool.UnsafeQueueUserWorkItem(new Answers(answers, from, Math.Min(from + size, answers.Count)), preferLocal: false);
        }
    }

    /// <inheritdoc />
    public void Execute()
    {
        for (var i = _from; i < _to; i++)
        {
            _answers[i].Pending.Answer(_answers[i].Answer);
        }
    }
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
internal sealed record Append(string Stream, int Version, PostedFact Posted, Fact Fact, string? Findings, DateTimeOffset RecordedAt);

/// <summary>A stream that isn't a unit's, while a group of facts is put together.</summary>
/// <param name="stream">Its name.</param>
/// <param name="stored">The facts that are stored.</param>
/// <param name="before">The case with these; null where the stream isn't a containment's, or it is to be folded.</param>
internal sealed class ReferenceDraft(string stream, ImmutableArray<RecordedFact> stored, Containment? before = null)
{
    private readonly ImmutableArray<RecordedFact> _stored = stored;
    private Containment? _before = before;
    private Containment? _containment;

    public string Stream { get; } = stream;

    public int StoredVersion { get; } = stored.Length;

    public ImmutableArray<RecordedFact> Facts { get; private set; } = stored;

    /// <summary>The case with the stored facts; null where the stream isn't a containment's.</summary>
    public Containment? Before => ContainmentRows.IsContainment(Stream) ? _before ??= ContainmentRows.Fold(Stream, _stored) : null;

    /// <summary>The case with all facts; null where the stream isn't a containment's.</summary>
    public Containment? Containment => _containment ??= Before?.With(Facts);

    public void Add(RecordedFact fact) => (Facts, _containment) = (Facts.Add(fact), null);
}

/// <summary>Everything that one transaction is to store, and what to answer when it is durable.</summary>
internal sealed class GroupPlan
{
    /// <summary>When the facts that are decided now are recorded; later ones that join the plan move it on.</summary>
    public required DateTimeOffset RecordedAt { get; set; }

    /// <summary>The present moment in whole microseconds, as the database keeps it.</summary>
    public static DateTimeOffset Moment(TimeProvider clock)
    {
        var ticks = clock.GetUtcNow().Ticks;
        return new(ticks - (ticks % TimeSpan.TicksPerMicrosecond), TimeSpan.Zero);
    }

    /// <summary>The reference clock that the judgements were made at.</summary>
    public required long ReferenceSeq { get; set; }

    /// <summary>The generation of the references that the judgements were made with.</summary>
    public int ReferenceGeneration { get; set; }

    public List<Append> Appends { get; } = [];

    public Dictionary<string, UnitDraft> Units { get; } = new(StringComparer.Ordinal);

    public Dictionary<string, ReferenceDraft> References { get; } = new(StringComparer.Ordinal);

    /// <summary>The version that each component's stream had when the judgements looked at it; 0 for none.</summary>
    public Dictionary<string, int> ComponentVersions { get; } = new(StringComparer.Ordinal);

    /// <summary>Components whose place in a parent changes, with that parent.</summary>
    public HashSet<(UnitKey Component, UnitKey Parent)> Moved { get; } = [];

    /// <summary>The streams of batches of which another unit is taken out, or is no longer, with how many parts were there for units.</summary>
    public Dictionary<string, int> Taken { get; } = new(StringComparer.Ordinal);

    public List<PendingRejudge> Rejudges { get; } = [];

    public List<(PendingFact Pending, IngestAnswer Answer)> Answers { get; } = [];

    /// <summary>The same of all units.</summary>
    public IReadOnlyCollection<string>? TemperaturesOf(Domain.Judging.References known, IReadOnlyList<PendingFact> pending) => TemperaturesOf(Units.Values, known, pending);

    /// <summary>The streams of temperatures that units may look at, with the facts that are to be decided; null for none.</summary>
    public static IReadOnlyCollection<string>? TemperaturesOf(IEnumerable<UnitDraft> units, Domain.Judging.References known, IReadOnlyList<PendingFact> pending)
    {
        HashSet<string>? names = null;
        foreach (var draft in units)
        {
            var key = draft.Unit.Key;
            names = Dependencies.Temperatures(names, known, draft.Unit, pending
                .Select(p => p.Posted.Fact is RecordCorrected corrected ? corrected.Replacement : p.Posted.Fact)
                .Where(f => f is Domain.ProductUnits.IUnitFact fact && fact.Unit == key));
        }

        return names;
    }

    /// <summary>Fills <see cref="Taken"/>, by what is known with the facts of the group.</summary>
    public void NoteTaken(Domain.Judging.References known)
    {
        foreach (var draft in Units.Values.Where(u => u.Unit.Version > u.Stored.Unit.Version && u.NamesBatch))
        {
            var (before, after) = (UnitTaken.Of(draft.Stored.Unit), UnitTaken.Of(draft.Unit));
            foreach (var key in before == after ? [] : new[] { before?.Batch, after?.Batch }.OfType<BatchKey>())
            {
                if (known.FindBatch(key) is { } batch && BatchCounts.ForUnits(batch, known) is { } parts)
                {
                    Taken[StreamNames.Of(key)] = parts;
                }
            }
        }
    }

    /// <summary>The units whose rows are written: those with new facts and those judged again.</summary>
    public IEnumerable<UnitDraft> Judged => Units.Values.Where(u => u.Rows is not null);

    /// <summary>The streams that judgements may look at, of those that grow: no judgement looks at a containment.</summary>
    public IEnumerable<ReferenceDraft> ChangedReferences => References.Values.Where(r => r.Facts.Length > r.StoredVersion && r.Containment is null);

    public bool IsEmpty => Appends.Count == 0 && Rejudges.Count == 0;
}
