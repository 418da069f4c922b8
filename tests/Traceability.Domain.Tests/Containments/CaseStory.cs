using Traceability.Domain.Containments;
using Traceability.Domain.Facts;
using Traceability.Domain.Judging;
using Traceability.Domain.Primitives;
using Traceability.Domain.Scope;
using Traceability.Testing.Building;
using Xunit;

namespace Traceability.Domain.Tests.Containments;

/// <summary>Tells the facts of one containment, each decided as it would be when it is sent.</summary>
internal sealed class CaseStory
{
    public static readonly ContainmentId Id = ContainmentId.Parse("CASE-1");
    private readonly List<RecordedFact> _facts = [];

    // As it grew, fact by fact, in the way in which the service keeps it.
    private Containment _grown = Containment.Of(Id, []);

    public Containment Case => Containment.Of(Id, [.. _facts]);

    public Guid LastId => _facts[^1].Id;

    /// <summary>A case that was opened and whose first run found these units.</summary>
    public static CaseStory Frozen(params string[] serials) => new CaseStory().Tell(Opened(0)).Run(1, 1, serials);

    public static ContainmentOpened Opened(double at) => new(Id, "Bad glue", "Gels late", """{"kind":"lot","item":"ADH","lot":"L1"}""", "lot ADH/L1", HoldsLate: false) { OccurredAt = Some.At(at) };

    public static UnitKey Unit(string serial) => Some.Unit("LAMP", serial);

    public static ContainedUnit Reached(string serial, ScopeVerdict? verdict = ScopeVerdict.Proven) => new(Unit(serial), verdict, Place.InProcess, "lot ADH/L1 at GLUE", null);

    public static FollowUpRecorded FollowedUp(double at, FollowUpOutcome outcome, params string[] serials) =>
        new(Id, [.. serials.Select(Unit)], outcome, "note", []) { OccurredAt = Some.At(at), Person = PersonCode.Parse("P-9") };

    public static ContainmentClosed Closed(double at) => new(Id, "All done") { OccurredAt = Some.At(at), Person = PersonCode.Parse("P-9") };

    public static ContainmentReopened Reopened(double at) => new(Id, "One more") { OccurredAt = Some.At(at), Person = PersonCode.Parse("P-9") };

    public static LateMembersAcknowledged Acknowledged(double at) => new(Id, null) { OccurredAt = Some.At(at), Person = PersonCode.Parse("P-9") };

    /// <summary>Tells what must not be refused.</summary>
    public CaseStory Tell(Fact fact)
    {
        if (Refused(fact) is { } refusal)
        {
            throw new InvalidOperationException($"Refused with {refusal.Code}: {refusal.Detail}");
        }

        var number = _facts.Count + 1;
        _facts.Add(new(new Guid(number, 0, 0, new byte[8]), fact, Some.At(number)));
        var before = _grown.Members.ToArray();
        var grown = _grown.With([.. _facts]);
        Assert.Equal(before, _grown.Members);
        AssertSame(Case, grown);
        _grown = grown;
        return this;
    }

    /// <summary>A run of the question that ends with these members found anew or otherwise.</summary>
    public CaseStory Run(int run, double at, params ContainedUnit[] units) =>
        Tell(new ContainmentMembersFound(Id, run, Some.At(at), [.. units]) { OccurredAt = Some.At(at) })
            .Tell(new ContainmentScoped(Id, run, Some.At(at), IsComplete: true, units.Length, units.Length, 0, 0, []) { OccurredAt = Some.At(at) });

    public CaseStory Run(int run, double at, string[] serials) => Run(run, at, [.. serials.Select(s => Reached(s))]);

    public CaseStory Void(Guid record, double at) => Tell(new RecordVoided(record, "mistake", PersonCode.Parse("P-9")) { OccurredAt = Some.At(at) });

    public Refusal? Refused(Fact fact) => CorrectionDecisions.Check([.. _facts], fact) ?? ContainmentDecisions.Check(Case, fact);

    public ContainmentMember Member(string serial) => Case.Members[Unit(serial)];

    private static void AssertSame(Containment folded, Containment grown)
    {
        Assert.Equal((folded.Id, folded.Opened, folded.OpenedBy, folded.State, folded.Version, folded.HasUnreadable), (grown.Id, grown.Opened, grown.OpenedBy, grown.State, grown.Version, grown.HasUnreadable));
        Assert.Equal(folded.Members.OrderBy(m => m.Key.ToString(), StringComparer.Ordinal), grown.Members.OrderBy(m => m.Key.ToString(), StringComparer.Ordinal));
        Assert.Equal(folded.Runs, grown.Runs);
        Assert.Equal(folded.Words, grown.Words);
    }
}
