using System.Text.Json;
using Traceability.Domain.Lots;
using Traceability.Domain.Primitives;

namespace Traceability.Service.Http.Reading;

/// <summary>Reads the facts about a lot's life after its receipt.</summary>
internal static class LotFactTypes
{
    private static readonly Shape SourceShape = new("lot", "quantity", "container");
    private static readonly Shape ResultShape = new("characteristic", "passed", "value");

    public static ImmutableArray<FactType> All { get; } =
    [
        FactType.Of("lot-split", Split, "lot", "source", "stations"),
        FactType.Of("lot-merged", Merged, "lot", "sources", "stations"),
        FactType.Of("lot-mixed", Mixed, "lot", "parts", "stations"),
        FactType.Of("lot-inspected", Inspected, "lot", "accepted", "sampleCount", "results", "certificate", "note"),
        FactType.Of("lot-recertified", Recertified, "lot", "expiresAt", "evidence", "authorisedBy"),
        FactType.Of("stock-counted", Counted, "lot", "container", "quantity", "gain", "loss", "reason"),
    ];

    private static LotKey LotOf(ObjectReading o) => o.Value("lot", Parts.Lot);

    private static LotSplit Split(ObjectReading o, CommonMembers c) =>
        new(LotOf(o), o.Object("source", Source)!, o.Codes<StationCode>("stations")) { OccurredAt = c.At, Station = c.Station, Person = c.Person };

    private static LotMerged Merged(ObjectReading o, CommonMembers c)
    {
        var sources = o.List("sources", Source);
        if (sources.IsEmpty)
        {
            o.Fail("sources", "Name at least one lot that the material was taken out of.");
        }

        return new(LotOf(o), sources, o.Codes<StationCode>("stations")) { OccurredAt = c.At, Station = c.Station, Person = c.Person };
    }

    private static LotMixed Mixed(ObjectReading o, CommonMembers c)
    {
        var parts = o.List("parts", Source);
        if (parts.Length < 2)
        {
            o.Fail("parts", "Name at least two parts that were mixed.");
        }

        return new(LotOf(o), parts, o.Codes<StationCode>("stations")) { OccurredAt = c.At, Station = c.Station, Person = c.Person };
    }

    private static LotInspected Inspected(ObjectReading o, CommonMembers c) =>
        new(
            LotOf(o),
            o.Flag("accepted"),
            o.Has("sampleCount") ? o.Count("sampleCount", 1, 1_000_000) : null,
            o.List("results", Result),
            o.TextOrNull("certificate"),
            o.TextOrNull("note"))
        {
            OccurredAt = c.At, Station = c.Station, Person = c.Person,
        };

    private static LotRecertified Recertified(ObjectReading o, CommonMembers c) =>
        new(LotOf(o), o.Time("expiresAt"), o.Text("evidence"), o.Code<PersonCode>("authorisedBy"))
        {
            OccurredAt = c.At, Station = c.Station, Person = c.Person,
        };

    private static StockCounted Counted(ObjectReading o, CommonMembers c)
    {
        if ((o.Has("gain") || o.Has("loss")) && !o.Has("reason"))
        {
            o.Fail("reason", "Say why something is booked in or out.");
        }

        return new(
            LotOf(o),
            o.CodeOrNull<ContainerNumber>("container"),
            o.Value("quantity", Parts.Amount),
            o.ValueOrNull("gain", Parts.Amount),
            o.ValueOrNull("loss", Parts.Amount),
            o.TextOrNull("reason"))
        {
            OccurredAt = c.At, Station = c.Station, Person = c.Person,
        };
    }

    private static LotSource Source(JsonReading reading, JsonElement element)
    {
        using var o = reading.Open(element, SourceShape);
        return new(LotOf(o), o.ValueOrNull("quantity", Parts.Amount), o.CodeOrNull<ContainerNumber>("container"));
    }

    private static LotInspectionResult Result(JsonReading reading, JsonElement element)
    {
        using var o = reading.Open(element, ResultShape);
        return new(o.Code<Code>("characteristic"), o.Flag("passed"), o.ValueOrNull("value", Parts.Quantity));
    }
}
