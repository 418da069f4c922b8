using System.Text.Json;
using Traceability.Domain.Nonconformances;
using Traceability.Domain.Primitives;

namespace Traceability.Service.Http.Reading;

/// <summary>Reads reports of nonconformances and decisions about them.</summary>
internal static class NonconformanceFactTypes
{
    private static readonly Shape ConcessionShape = new("number", "until", "countMax");

    public static ImmutableArray<FactType> All { get; } =
    [
        FactType.Of("nonconformance-reported", Reported, "unit", "step", "defect", "description", "attachments"),
        FactType.Of("nonconformance-taken-up", TakenUp, "unit", "nonconformance", "note"),
        FactType.Of("nonconformance-disposed", Disposed, "unit", "nonconformance", "disposition", "reopens", "concession", "reason", "attachments"),
    ];

    private static NonconformanceReported Reported(ObjectReading o, CommonMembers c) =>
        new(o.Value("unit", Parts.Unit), o.CodeOrNull<StepCode>("step"), o.Code<Code>("defect"), o.Text("description"), Attachments(o))
        {
            OccurredAt = c.At, Station = c.Station, Person = c.Person,
        };

    private static NonconformanceTakenUp TakenUp(ObjectReading o, CommonMembers c) =>
        new(o.Value("unit", Parts.Unit), Nonconformance(o), o.TextOrNull("note"))
        {
            OccurredAt = c.At, Station = c.Station, Person = c.Person,
        };

    private static NonconformanceDisposed Disposed(ObjectReading o, CommonMembers c)
    {
        var fact = new NonconformanceDisposed(
            o.Value("unit", Parts.Unit),
            Nonconformance(o),
            o.OneOf<Disposition>("disposition"),
            o.Codes<StepCode>("reopens"),
            o.ObjectOr<Concession?>("concession", null, ReadConcession),
            o.Text("reason"),
            Attachments(o))
        {
            OccurredAt = c.At, Station = c.Station, Person = c.Person,
        };
        if (o.Has("disposition"))
        {
            CheckParts(o, fact);
        }

        return fact;
    }

    // What belongs to the one disposition says nothing with another one.
    private static void CheckParts(ObjectReading o, NonconformanceDisposed fact)
    {
        var redoes = fact.Disposition is Disposition.Rework or Disposition.Repair;
        if (redoes != !fact.Reopens.IsEmpty)
        {
            o.Fail("reopens", redoes ? "Rework and repair name the steps that are to be done again." : "Only rework and repair re-open steps.");
        }

        if (fact.Disposition == Disposition.UseAsIs != o.Has("concession"))
        {
            o.Fail("concession", fact.Disposition == Disposition.UseAsIs ? "Use-as-is needs a concession with its limits." : "Only use-as-is has a concession.");
        }

        var steps = new Once<StepCode>(fact.Reopens.Length);
        for (var i = 0; i < fact.Reopens.Length; i++)
        {
            if (!steps.Add(fact.Reopens[i]))
            {
                o.Reading.Enter("reopens");
                o.Reading.Enter(i);
                o.Reading.Fail(null, "The step is named twice.");
                o.Reading.Leave();
                o.Reading.Leave();
            }
        }
    }

    private static NonconformanceId Nonconformance(ObjectReading o)
    {
        var id = o.Code<NonconformanceId>("nonconformance");
        if (id != default && !id.TrySplit(out _, out _, out _))
        {
            o.Fail("nonconformance", "The id of a nonconformance is that of the report, or as the list of nonconformances tells it.");
        }

        return id;
    }

    private static Concession ReadConcession(JsonReading reading, JsonElement element)
    {
        using var o = reading.Open(element, ConcessionShape);
        var concession = new Concession(o.Code<Code>("number"), o.TimeOrNull("until"), o.Has("countMax") ? o.Count("countMax", 1, WireLimits.ConcessionCountMax) : null);
        if (!o.Has("until") && !o.Has("countMax") && element.ValueKind == JsonValueKind.Object)
        {
            o.Fail("until", "A concession is limited: by its end, by a count, or by both.");
        }

        return concession;
    }

    private static ImmutableArray<ContentHash> Attachments(ObjectReading o)
    {
        var attachments = o.List("attachments", Attachment);
        if (attachments.Length > WireLimits.AttachmentsMax)
        {
            o.Fail("attachments", $"A fact names at most {WireLimits.AttachmentsMax} files.");
        }

        return attachments;
    }

    private static ContentHash Attachment(JsonReading reading, JsonElement element)
    {
        if (reading.TryCode<ContentHash>(element, null, out var hash) && !hash.IsHash)
        {
            reading.Fail(null, "The SHA-256 of the file is expected, 64 hexadecimal digits, as the upload answered it.");
        }

        return hash;
    }
}
