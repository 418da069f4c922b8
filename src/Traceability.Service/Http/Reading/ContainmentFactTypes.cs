using Traceability.Domain.Containments;
using Traceability.Domain.Facts;
using Traceability.Domain.Primitives;

namespace Traceability.Service.Http.Reading;

/// <summary>Reads what people report about containments. What the service finds is not sent by anybody.</summary>
internal static class ContainmentFactTypes
{
    public static ImmutableArray<FactType> All { get; } =
    [
        FactType.Of("follow-up-recorded", FollowedUp, "containment", "units", "outcome", "note", "evidence"),
        FactType.Of("containment-closed", (o, c) => Signed(o, new ContainmentClosed(Id(o), o.Text("conclusion")) { OccurredAt = c.At, Station = c.Station, Person = c.Person }), "containment", "conclusion"),
        FactType.Of("containment-reopened", (o, c) => Signed(o, new ContainmentReopened(Id(o), o.Text("reason")) { OccurredAt = c.At, Station = c.Station, Person = c.Person }), "containment", "reason"),
        FactType.Of("late-members-acknowledged", (o, c) => Signed(o, new LateMembersAcknowledged(Id(o), o.TextOrNull("note")) { OccurredAt = c.At, Station = c.Station, Person = c.Person }), "containment", "note"),
    ];

    private static ContainmentId Id(ObjectReading o) => o.Code<ContainmentId>("containment");

    private static FollowUpRecorded FollowedUp(ObjectReading o, CommonMembers c)
    {
        var fact = new FollowUpRecorded(
            Id(o), o.List("units", Parts.Unit), o.OneOf<FollowUpOutcome>("outcome"), o.TextOrNull("note"), o.List("evidence", static (r, e) => r.TryId(e, null, out var id) ? id : Guid.Empty))
        {
            OccurredAt = c.At, Station = c.Station, Person = c.Person,
        };
        if (fact.Units.IsEmpty)
        {
            o.Fail("units", "Name the members that were followed up, one or more.");
        }

        CheckOnce(o, fact);
        if (o.Has("outcome") && fact.Outcome.NeedsNote() && string.IsNullOrWhiteSpace(fact.Note))
        {
            o.Fail("note", "This outcome needs a note: who decided, what was tried, or which records show it.");
        }

        return Signed(o, fact);
    }

    private static void CheckOnce(ObjectReading o, FollowUpRecorded fact)
    {
        var units = new Once<UnitKey>(fact.Units.Length);
        for (var i = 0; i < fact.Units.Length; i++)
        {
            if (fact.Units[i] != default && !units.Add(fact.Units[i]))
            {
                o.Reading.Enter("units");
                o.Reading.Enter(i);
                o.Reading.Fail(null, "The unit is named twice.");
                o.Reading.Leave();
                o.Reading.Leave();
            }
        }
    }

    // A case is answered for by name.
    private static T Signed<T>(ObjectReading o, T fact)
        where T : Fact
    {
        if (!o.Has("person"))
        {
            o.Fail("person", "The member is missing. What is decided about a containment names the person who decides.");
        }

        return fact;
    }
}
