using System.Text.Json;
using Traceability.Domain.Primitives;
using Traceability.Domain.Routings;
using Traceability.Service.Http.Reading;

namespace Traceability.Service.Features.Revisions;

/// <summary>Which units are to move, and by whose decision.</summary>
internal sealed record MoveAsked(
    RevisionCode To, RevisionCode? From, SerialNumber? SerialFrom, SerialNumber? SerialTo, string Reason, PersonCode AuthorisedBy, int Limit, SerialNumber? After);

/// <summary>Reads the question what a move comes to.</summary>
internal static class MovePlanReader
{
    private const int Default = 100;
    private const int Most = 200;

    private static readonly Shape Question = new("to", "from", "serialFrom", "serialTo", "reason", "authorisedBy", "limit", "after");

    /// <summary>Reads it at the present place.</summary>
    public static MoveAsked Read(JsonReading reading, JsonElement element)
    {
        using var o = reading.Open(element, Question);
        var asked = new MoveAsked(
            o.Code<RevisionCode>("to"),
            o.CodeOrNull<RevisionCode>("from"),
            o.CodeOrNull<SerialNumber>("serialFrom"),
            o.CodeOrNull<SerialNumber>("serialTo"),
            o.Text("reason"),
            o.Code<PersonCode>("authorisedBy"),
            o.Count("limit", Default, Most),
            o.CodeOrNull<SerialNumber>("after"));
        if (asked.From == asked.To && asked.To != default)
        {
            o.Fail("from", "Units of this revision are there already. Name another one, or leave it out.");
        }

        if (asked is { SerialFrom: { } first, SerialTo: { } last } && Effectivity.Compare(first, last) > 0)
        {
            o.Fail("serialTo", "serialTo comes before serialFrom (serials are ordered by length, then by character), so there is no unit between.");
        }

        return asked;
    }
}
