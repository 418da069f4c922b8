using System.Text.Json;
using Traceability.Domain.Facts;
using Traceability.Domain.Primitives;

namespace Traceability.Service.Http.Reading;

/// <summary>Reads the facts that correct or void another one.</summary>
internal static class CorrectionFactTypes
{
    private const string CorrectedName = "record-corrected";
    private const string VoidedName = "record-voided";

    public static ImmutableArray<FactType> All { get; } =
    [
        FactType.Of(CorrectedName, Corrected, "record", "replacement", "reason", "authorisedBy"),
        FactType.Of(VoidedName, Voided, "record", "reason", "authorisedBy"),
    ];

    private static RecordCorrected Corrected(ObjectReading o, CommonMembers c) =>
        new(o.Id("record"), o.Object("replacement", Replacement)!, o.Text("reason"), o.Code<PersonCode>("authorisedBy"))
        {
            OccurredAt = c.At, Station = c.Station, Person = c.Person,
        };

    private static RecordVoided Voided(ObjectReading o, CommonMembers c) =>
        new(o.Id("record"), o.Text("reason"), o.Code<PersonCode>("authorisedBy"))
        {
            OccurredAt = c.At, Station = c.Station, Person = c.Person,
        };

    // Null only with a fault: the fact is then thrown away.
    private static Fact Replacement(JsonReading reading, JsonElement element)
    {
        if (FactType.Find(reading, element) is not { } type)
        {
            return null!;
        }

        if (type.Name is CorrectedName or VoidedName)
        {
            reading.Fail("type", "A correction can't be the replacement of a record. Void the wrong correction, and correct the first record anew.");
            return null!;
        }

        using var o = reading.Open(element, type.ReplacementShape);
        return type.Read(o, FactType.ReadCommon(o));
    }
}
