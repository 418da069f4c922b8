using System.Text.Json;
using Traceability.Domain.Facts;
using Traceability.Domain.Judging;
using Traceability.Domain.Primitives;
using Traceability.Domain.ProductUnits;
using Traceability.Service.Storage;

namespace Traceability.Service.Ingest;

/// <summary>Decides the facts of a loaded group in order; each sees the ones before it. Reads and writes nothing.</summary>
internal sealed class GroupDecider(GroupPlan plan, References references)
{
    private readonly Dictionary<Guid, (byte[] Hash, IngestAnswer.Recorded Answer)> _accepted = [];
    private readonly List<UnitDraft> _opened = [];
    private References _references = references;

    /// <summary>Goes on with references that know more; what the facts so far have changed is kept.</summary>
    public void Know(References more)
    {
        _references = more;
        foreach (var draft in _opened)
        {
            _references = _references.With(draft.Stored.Stream, draft.Unit);
        }
    }

    /// <summary>Fills the plan.</summary>
    public void Decide(
        IReadOnlyList<PendingFact> facts,
        Dictionary<PendingFact, string?> streams,
        Func<PostedFact, (byte[] Hash, IngestAnswer.Recorded Answer)?> receipt,
        IReadOnlyList<PendingRejudge> rejudges)
    {
        var refused = new Dictionary<PendingTogether, Refusal?>();
        foreach (var pending in facts)
        {
            var posted = pending.Posted;
            if (pending.Together is { } together && RefusalOf(together, refused, streams, receipt) is { } reason)
            {
                plan.Answers.Add((pending, new IngestAnswer.Refused(reason)));
                continue;
            }

            var before = receipt(posted) ?? (_accepted.TryGetValue(posted.Id, out var same) ? same : null);
            plan.Answers.Add((pending, before is { } known ? Repeat(posted, known) : DecideOne(posted, streams[pending])));
        }

        plan.NoteTaken(_references);
        foreach (var rejudge in rejudges)
        {
            plan.Rejudges.Add(rejudge);
            if (plan.Units[StreamNames.UnitPrefix + rejudge.Unit] is { Unit.Version: > 0, Rows: null } draft)
            {
                Judge(draft);
            }
        }
    }

    // Of facts that are stored together, the first refusal is that of all. They are about units, each about another one.
    private Refusal? RefusalOf(
        PendingTogether together,
        Dictionary<PendingTogether, Refusal?> known,
        Dictionary<PendingFact, string?> streams,
        Func<PostedFact, (byte[] Hash, IngestAnswer.Recorded Answer)?> receipt)
    {
        if (!known.TryGetValue(together, out var refusal))
        {
            known[together] = refusal = together.Facts.Select(p => (receipt(p.Posted) ?? (_accepted.TryGetValue(p.Posted.Id, out var same) ? same : null)) is { } before
                ? before.Hash.AsSpan().SequenceEqual(p.Posted.ContentHash) ? null : IdReused(p.Posted)
                : UnitDecisions.Check(plan.Units[streams[p]!].Unit, p.Posted.Fact, _references)).FirstOrDefault(r => r is not null);
        }

        return refusal;
    }

    private static IngestAnswer Repeat(PostedFact posted, (byte[] Hash, IngestAnswer.Recorded Answer) known) =>
        known.Hash.AsSpan().SequenceEqual(posted.ContentHash)
            ? known.Answer with { Posted = posted, IsRepeat = true }
            : new IngestAnswer.Refused(IdReused(posted));

    /// <summary>The refusal of a fact whose id another one has.</summary>
    internal static Refusal IdReused(PostedFact posted) => Refusal.At(
        "fact-id-reused",
        RefusalKind.Contradiction,
        "/factId",
        $"A fact with the id {posted.Id} and other content is recorded already. Give every fact an id of its own; to change a record, post a record-corrected.");

    private IngestAnswer DecideOne(PostedFact posted, string? stream)
    {
        if (stream is null)
        {
            return new IngestAnswer.Refused(CorrectionDecisions.Check([], posted.Fact)!);
        }

        return plan.Units.TryGetValue(stream, out var unit) ? DecideUnit(posted, unit) : DecideReference(posted, plan.References[stream]);
    }

    private IngestAnswer DecideUnit(PostedFact posted, UnitDraft draft)
    {
        var fact = CorrectionDecisions.WithClock(draft.Unit.Facts, posted.Fact);
        if ((CorrectionDecisions.Check(draft.Unit.Facts, fact) ?? UnitDecisions.Check(draft.Unit, fact, _references)) is { } refusal)
        {
            return new IngestAnswer.Refused(refusal);
        }

        draft.Add(new(posted.Id, fact, plan.RecordedAt));
        if (_references.FindUnit(draft.Unit.Key) is not null || fact is UnitOpened)
        {
            _references = _references.With(draft.Stored.Stream, draft.Unit);
            _opened.Add(draft);
        }

        var findings = Judge(draft);
        return Accept(posted, draft.Stored.Stream, draft.Unit.Version, fact, findings);
    }

    private IngestAnswer DecideReference(PostedFact posted, ReferenceDraft draft)
    {
        var fact = CorrectionDecisions.WithClock(draft.Facts, posted.Fact);
        if (ReferenceDecisions.Check(draft, fact, _references) is { } refusal)
        {
            return new IngestAnswer.Refused(refusal);
        }

        draft.Add(new(posted.Id, fact, plan.RecordedAt));
        _references = _references.With(draft.Stream, References.Fold(draft.Stream, draft.Facts));
        return Accept(posted, draft.Stream, draft.Facts.Length, fact, []);
    }

    private IngestAnswer.Recorded Accept(PostedFact posted, string stream, int version, Fact fact, ImmutableArray<Finding> findings)
    {
        plan.Appends.Add(new(stream, version, posted, fact, findings.IsEmpty ? null : JsonSerializer.Serialize(findings, EventJson.Options), plan.RecordedAt));
        var answer = new IngestAnswer.Recorded(posted, stream, version, plan.RecordedAt, IsRepeat: false, findings);
        _accepted[posted.Id] = (posted.ContentHash, answer);
        return answer;
    }

    private ImmutableArray<Finding> Judge(UnitDraft draft)
    {
        var findings = draft.Judge(_references);
        foreach (var component in draft.Components)
        {
            // Where a component is, is told by its parents: other units of the group must see it at once.
            var before = _references.InstallationsOf(component);
            var elsewhere = before.RemoveAll(i => i.Parent == draft.Unit.Key);
            var here = draft.Rows!.Judgement.Installations.Where(i => i.Component == component);
            ImmutableArray<Installation> after = [.. elsewhere.Concat(here).OrderBy(i => i.From).ThenBy(i => i.Record)];
            if (!after.ToHashSet().SetEquals(before))
            {
                _references = _references.WithInstallations(component, after);
                plan.Moved.Add((component, draft.Unit.Key));
            }
        }

        return findings;
    }
}
