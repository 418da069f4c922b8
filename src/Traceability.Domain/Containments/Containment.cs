using Traceability.Domain.Facts;
using Traceability.Domain.Judging;
using Traceability.Domain.Primitives;
using Traceability.Domain.Scope;

namespace Traceability.Domain.Containments;

/// <summary>Where a containment stands.</summary>
public enum ContainmentState
{
    /// <summary>Nobody opened it.</summary>
    Unknown,

    /// <summary>Members are followed up.</summary>
    Open,

    /// <summary>A person closed it, and nothing that came since opened it again.</summary>
    Closed,
}

/// <summary>The last thing that was recorded of following up a member.</summary>
/// <param name="Record">The fact.</param>
/// <param name="Outcome">What came of it.</param>
/// <param name="At">When that was.</param>
/// <param name="Person">Who did it.</param>
/// <param name="Note">Free text.</param>
/// <param name="Evidence">Records that show it.</param>
public sealed record MemberOutcome(Guid Record, FollowUpOutcome Outcome, DateTimeOffset At, PersonCode? Person, string? Note, ImmutableArray<Guid> Evidence);

/// <summary>A member of a containment. Once a member, it stays one.</summary>
/// <param name="Unit">The unit.</param>
/// <param name="Verdict">How sure it is that it is reached, by the last run; null: that run did not reach it.</param>
/// <param name="PlaceFound">Where it was when it was found.</param>
/// <param name="FoundAt">The moment of the run that found it.</param>
/// <param name="FoundBy">The fact that brought it.</param>
/// <param name="Run">The run that found it; 1 froze the scope, what a later one found came late.</param>
public sealed record ContainmentMember(UnitKey Unit, ScopeVerdict? Verdict, Place PlaceFound, DateTimeOffset FoundAt, Guid FoundBy, int Run)
{
    /// <summary>By which way it is reached, in words, by the last run that did reach it.</summary>
    public string? Why { get; init; }

    /// <summary>The record that the way rests on.</summary>
    public Guid? Evidence { get; init; }

    /// <summary>Of one that came late: a person has taken note of it.</summary>
    public bool IsAcknowledged { get; init; }

    /// <summary>When a hold in the containment's name first stopped it; null: none did.</summary>
    public DateTimeOffset? HeldAt { get; init; }

    /// <summary>When that hold was last lifted, while it is; null: it was not.</summary>
    public DateTimeOffset? LiftedAt { get; init; }

    /// <summary>The first thing that was recorded of following it up: when; null: nothing was.</summary>
    public DateTimeOffset? FirstFollowedUpAt { get; init; }

    /// <summary>The last one, by when it was done; null: nothing was recorded.</summary>
    public MemberOutcome? Outcome { get; init; }

    /// <summary>It was not among those that the first run found.</summary>
    public bool IsLate => Run > 1;

    /// <summary>Whether nothing more is to be done about it.</summary>
    public bool HasFinalOutcome => Outcome?.Outcome.IsFinal() == true;

    /// <summary>Whether the containment's hold on it stands, by what is recorded with the case.</summary>
    public bool IsHeld => HeldAt is not null && LiftedAt is null;
}

/// <summary>A person's last word on whether the case is closed.</summary>
/// <param name="Record">The fact.</param>
/// <param name="At">When.</param>
/// <param name="Person">Who.</param>
/// <param name="Words">The conclusion, or why it was opened again.</param>
/// <param name="Lacking">Of a closing: how many members had no final outcome by what is known now; above 0 it does not stand.</param>
public sealed record ContainmentWord(Guid Record, DateTimeOffset At, PersonCode? Person, string Words, int Lacking);

/// <summary>A containment, folded from its facts.</summary>
/// <remarks>
/// What is decided about a case takes effect when it is recorded, so its facts count in the order in which the service stored
/// them; of several outcomes of one member the one that was done last counts. A closing stands only while every member that was
/// known then has a final outcome by then: a void of an outcome, and a member that is found afterwards, open the case again.
/// </remarks>
public sealed class Containment
{
    private readonly Dictionary<UnitKey, ContainmentMember> _members;

    private Containment(ContainmentId id)
    {
        Id = id;
        _members = [];
        (Runs, Words) = ([], []);
    }

    private Containment(Containment other)
    {
        Id = other.Id;
        _members = new(other._members);
        (Opened, OpenedBy, State, HasUnreadable) = (other.Opened, other.OpenedBy, other.State, other.HasUnreadable);
        (Runs, Words) = ([.. other.Runs], [.. other.Words]);
    }

    /// <summary>The number of the case.</summary>
    public ContainmentId Id { get; }

    /// <summary>How it was opened; null while it isn't.</summary>
    public ContainmentOpened? Opened { get; private set; }

    /// <summary>The id of that fact.</summary>
    public Guid OpenedBy { get; private set; }

    /// <summary>Where it stands.</summary>
    public ContainmentState State { get; private set; }

    /// <summary>The members, in no order.</summary>
    public IReadOnlyDictionary<UnitKey, ContainmentMember> Members => _members;

    /// <summary>The runs of the question, first to last; the members of a run that isn't here are not all recorded.</summary>
    public List<ContainmentScoped> Runs { get; }

    /// <summary>The closings and reopenings that count, first to last.</summary>
    public List<ContainmentWord> Words { get; }

    /// <summary>How many facts it has.</summary>
    public int Version { get; private set; }

    /// <summary>Some stored fact of it can't be read: members or outcomes may be missing here.</summary>
    public bool HasUnreadable { get; private set; }

    /// <summary>How many members have no final outcome.</summary>
    public int OpenCount => _members.Values.Count(m => !m.HasFinalOutcome);

    /// <summary>How many members came late, and nobody has taken note of them.</summary>
    public int LateCount => _members.Values.Count(m => m is { IsLate: true, IsAcknowledged: false });

    /// <summary>Folds the facts of a containment's stream, in the order in which they were stored. Total.</summary>
    public static Containment Of(ContainmentId id, ImmutableArray<RecordedFact> facts)
    {
        var containment = new Containment(id) { Version = facts.Length };
        containment.Take(facts);
        return containment;
    }

    /// <summary>The case when its stream has grown: the same as if all were folded, for what the new facts take. This one stays as it is.</summary>
    /// <param name="facts">All facts of the stream; the first are those of this case.</param>
    public Containment With(ImmutableArray<RecordedFact> facts)
    {
        if (facts.Length == Version)
        {
            return this;
        }

        var more = facts[Version..];
        if (more.Any(f => f.Fact is RecordCorrected or RecordVoided))
        {
            return Of(Id, facts);
        }

        var grown = new Containment(this) { Version = facts.Length };
        grown.Take(more);
        return grown;
    }

    private void Take(ImmutableArray<RecordedFact> facts)
    {
        var place = new Dictionary<Guid, int>(facts.Length);
        foreach (var fact in facts)
        {
            place.TryAdd(fact.Id, place.Count);
        }

        foreach (var fact in EffectiveFacts.Of(facts).OrderBy(f => place[f.Id]))
        {
            Take(fact);
        }
    }

    private void Take(EffectiveFact fact)
    {
        // A void of what can't be read doesn't tell what it was.
        HasUnreadable |= fact.Fact is UnreadableFact;
        if (fact.IsVoided)
        {
            return;
        }

        switch (fact.Fact)
        {
            case ContainmentOpened opened when Opened is null:
                (Opened, OpenedBy, State) = (opened, fact.Id, ContainmentState.Open);
                break;
            case ContainmentMembersFound found:
                Take(found, fact.Id);
                break;
            case ContainmentScoped scoped:
                Runs.Add(scoped);
                break;
            case ContainmentHoldsSet holds:
                Change(holds.Placed, m => m with { HeldAt = m.HeldAt ?? fact.At, LiftedAt = null });
                Change(holds.Lifted, m => m with { LiftedAt = fact.At });
                break;
            case FollowUpRecorded followUp:
                Change(followUp.Units, m => FollowUp(m, followUp, fact));
                break;
            case LateMembersAcknowledged:
                Change([.. _members.Values.Where(m => m is { IsLate: true, IsAcknowledged: false }).Select(m => m.Unit)], m => m with { IsAcknowledged = true });
                break;
            case ContainmentClosed closed:
                Words.Add(new(fact.Id, fact.At, closed.Person, closed.Conclusion, OpenCount));
                State = OpenCount == 0 ? ContainmentState.Closed : State;
                break;
            case ContainmentReopened reopened:
                Words.Add(new(fact.Id, fact.At, reopened.Person, reopened.Reason, 0));
                State = ContainmentState.Open;
                break;
        }
    }

    private void Take(ContainmentMembersFound found, Guid record)
    {
        foreach (var unit in found.Units)
        {
            var isKnown = _members.TryGetValue(unit.Unit, out var known);
            var member = isKnown ? known! : new(unit.Unit, unit.Verdict, unit.Place, found.AsOf, record, found.Run);
            member = member with { Verdict = unit.Verdict, Why = unit.Why ?? member.Why, Evidence = unit.Record ?? member.Evidence };
            _members[unit.Unit] = member;
            State = member.HasFinalOutcome ? State : ContainmentState.Open;
        }
    }

    private static ContainmentMember FollowUp(ContainmentMember member, FollowUpRecorded followUp, EffectiveFact fact)
    {
        var isLast = member.Outcome is not { } known || fact.At >= known.At;
        return member with
        {
            FirstFollowedUpAt = member.FirstFollowedUpAt is { } first && first <= fact.At ? first : fact.At,
            Outcome = isLast ? new(fact.Id, followUp.Outcome, fact.At, followUp.Person, followUp.Note, followUp.Evidence) : member.Outcome,
        };
    }

    // One that is no member has nothing to change: it was refused, or its unit was corrected away.
    private void Change(ImmutableArray<UnitKey> units, Func<ContainmentMember, ContainmentMember> change)
    {
        foreach (var unit in units)
        {
            if (_members.TryGetValue(unit, out var member))
            {
                _members[unit] = change(member);
            }
        }
    }
}
