using System.Globalization;
using Traceability.Domain.Facts;
using Traceability.Domain.Primitives;

namespace Traceability.Domain.Containments;

/// <summary>What can be done about a containment.</summary>
public enum ContainmentAct
{
    /// <summary>It is opened.</summary>
    Open,

    /// <summary>The service records what it found: members, a run, holds.</summary>
    Find,

    /// <summary>Members are followed up.</summary>
    FollowUp,

    /// <summary>A person takes note of what came late.</summary>
    Acknowledge,

    /// <summary>It is closed.</summary>
    Close,

    /// <summary>It is opened again.</summary>
    Reopen,
}

/// <summary>Decides whether a fact about a containment can be recorded. The life of a case is a table: state × act → nothing or a refusal's code.</summary>
public static class ContainmentDecisions
{
    public const string Unknown = "containment-unknown";
    public const string AlreadyOpened = "containment-already-opened";
    public const string Closed = "containment-closed";
    public const string NotClosed = "containment-not-closed";
    public const string MembersOpen = "containment-members-open";
    public const string NotScoped = "containment-not-scoped";
    public const string LateNotAcknowledged = "containment-late-not-acknowledged";
    public const string NotMember = "unit-not-contained";

    // The most units that a refusal names one by one.
    private const int NamedMax = 20;

    /// <summary>The cell: the code of the refusal, or null. Total: every state has every act. What a closing needs is looked at behind it.</summary>
    public static string? Of(ContainmentState state, ContainmentAct act) => (state, act) switch
    {
        (ContainmentState.Unknown, ContainmentAct.Open) => null,
        (ContainmentState.Unknown, _) => Unknown,
        (_, ContainmentAct.Open) => AlreadyOpened,
        (_, ContainmentAct.Find) => null,
        (ContainmentState.Open, ContainmentAct.Reopen) => NotClosed,
        (ContainmentState.Open, _) => null,
        (ContainmentState.Closed, ContainmentAct.Reopen) => null,
        (ContainmentState.Closed, ContainmentAct.FollowUp or ContainmentAct.Close or ContainmentAct.Acknowledge) => Closed,
        _ => throw new ArgumentOutOfRangeException(nameof(act)),
    };

    /// <summary>The act that a fact of a containment's stream is.</summary>
    public static ContainmentAct ActOf(IContainmentFact fact) => fact switch
    {
        ContainmentOpened => ContainmentAct.Open,
        FollowUpRecorded => ContainmentAct.FollowUp,
        LateMembersAcknowledged => ContainmentAct.Acknowledge,
        ContainmentClosed => ContainmentAct.Close,
        ContainmentReopened => ContainmentAct.Reopen,
        _ => ContainmentAct.Find,
    };

    /// <summary>The refusal, or null: record it.</summary>
    /// <param name="containment">The case as it stands.</param>
    /// <param name="fact">A fact about it, or a correction or void of one.</param>
    public static Refusal? Check(Containment containment, Fact fact)
    {
        ArgumentNullException.ThrowIfNull(containment);
        return fact switch
        {
            IContainmentFact about => CheckFact(containment, about),
            RecordCorrected { Replacement: FollowUpRecorded followUp } => CheckMembers(containment, followUp, "/replacement"),
            _ => null,
        };
    }

    private static Refusal? CheckFact(Containment containment, IContainmentFact fact)
    {
        var id = fact.Containment;
        if (Of(containment.State, ActOf(fact)) is { } code)
        {
            return Refuse(code, id);
        }

        return fact switch
        {
            FollowUpRecorded followUp => CheckMembers(containment, followUp, string.Empty),
            ContainmentClosed => CheckClosing(containment),
            _ => null,
        };
    }

    private static Refusal Refuse(string code, ContainmentId id) => code switch
    {
        Unknown => Refusal.At(code, RefusalKind.Unknown, "/containment", $"Containment {id} is not known. Open it first, or correct its number."),
        AlreadyOpened => Refusal.At(code, RefusalKind.Contradiction, "/containment", $"Containment {id} was opened before. Give this one another number."),
        Closed => Refusal.At(code, RefusalKind.Contradiction, "/containment", $"Containment {id} is closed. Open it again first, by a containment-reopened."),
        NotClosed => Refusal.At(code, RefusalKind.Contradiction, "/containment", $"Containment {id} is not closed, so it can't be opened again."),
        _ => throw new ArgumentOutOfRangeException(nameof(code)),
    };

    private static Refusal? CheckMembers(Containment containment, FollowUpRecorded followUp, string at)
    {
        var faults = ImmutableArray.CreateBuilder<Fault>();
        for (var i = 0; i < followUp.Units.Length; i++)
        {
            if (!containment.Members.ContainsKey(followUp.Units[i]))
            {
                faults.Add(new(string.Create(CultureInfo.InvariantCulture, $"{at}/units/{i}"), $"{followUp.Units[i]} is no member of containment {followUp.Containment}. Follow up its members only."));
            }
        }

        return faults.Count == 0 ? null : new(NotMember, RefusalKind.Unknown, "Some of the units are no members of the containment. Each is listed.", faults.ToImmutable());
    }

    // Everything that is in the way at once.
    private static Refusal? CheckClosing(Containment containment)
    {
        var faults = ImmutableArray.CreateBuilder<Fault>();
        var code = (string?)null;
        if (containment.Runs.Count == 0 || containment.HasUnreadable)
        {
            code = NotScoped;
            faults.Add(new("/containment", containment.HasUnreadable
                ? "Some stored fact of the case can't be read, so members or outcomes may be missing. Have it corrected first."
                : "The members are not all recorded yet. Refresh the case, and look at it again."));
        }

        if (containment.LateCount > 0)
        {
            code ??= LateNotAcknowledged;
            faults.Add(new("/containment", string.Create(CultureInfo.InvariantCulture, $"{containment.LateCount} of the members came late, and nobody has taken note of them. Record a late-members-acknowledged.")));
        }

        var open = containment.Members.Values.Where(m => !m.HasFinalOutcome).OrderBy(m => m.Unit.ToString(), StringComparer.Ordinal).ToArray();
        if (open.Length > 0)
        {
            code ??= MembersOpen;
            faults.AddRange(open.Take(NamedMax).Select(m => new Fault("/containment", $"{m.Unit} has no final outcome{(m.Outcome is { } last ? $": the last one is {Say(last.Outcome)}" : string.Empty)}.")));
            if (open.Length > NamedMax)
            {
                faults.Add(new("/containment", string.Create(CultureInfo.InvariantCulture, $"{open.Length - NamedMax} more members have no final outcome.")));
            }
        }

        return code is null ? null : new(
            code,
            RefusalKind.Contradiction,
            string.Create(CultureInfo.InvariantCulture, $"Containment {containment.Id} can't be closed: {open.Length} of {containment.Members.Count} members have no final outcome, and {containment.LateCount} that came late are not acknowledged."),
            faults.ToImmutable());
    }

    /// <summary>An outcome in words.</summary>
    public static string Say(FollowUpOutcome outcome) => outcome switch
    {
        FollowUpOutcome.InspectedGood => "inspected, nothing found",
        FollowUpOutcome.Reworked => "reworked",
        FollowUpOutcome.NotAffected => "not affected, by records",
        FollowUpOutcome.Replaced => "replaced",
        FollowUpOutcome.Scrapped => "scrapped",
        FollowUpOutcome.LeftWithConsignee => "left with the consignee",
        FollowUpOutcome.NotReachable => "not reachable",
        FollowUpOutcome.Returned => "returned, to be decided",
        FollowUpOutcome.ConsigneeNotified => "consignee notified, answer awaited",
        _ => throw new ArgumentOutOfRangeException(nameof(outcome)),
    };
}
