using System.Security.Cryptography;
using System.Text;
using System.Text.Json;
using Traceability.Domain.Primitives;
using Traceability.Service.Http.Reading;

namespace Traceability.Service.Features.Shipments;

/// <summary>A shipment that is asked for.</summary>
/// <param name="Id">The id that the sender gives it.</param>
/// <param name="Consignee">To whom.</param>
/// <param name="OrderReference">Under which order.</param>
/// <param name="Person">Who decides.</param>
/// <param name="Station">Where.</param>
/// <param name="Units">The units, in order.</param>
internal sealed record AskedShipment(
    Guid Id, string Consignee, string? OrderReference, PersonCode Person, StationCode? Station, ImmutableArray<UnitKey> Units)
{
    /// <summary>The id of one unit's fact: a UUID of version 8 that follows from the shipment's id and the unit, so that a repeat has it again.</summary>
    /// <remarks>Source: RFC 9562, section 5.8 and the worked example of appendix B.2 (name-based with SHA-256).</remarks>
    public Guid FactId(UnitKey unit)
    {
        var name = Encoding.UTF8.GetBytes(unit.ToString());
        Span<byte> input = new byte[16 + name.Length];
        Id.TryWriteBytes(input, bigEndian: true, out _);
        name.CopyTo(input[16..]);
        var id = SHA256.HashData(input).AsSpan(0, 16);
        id[6] = (byte)((id[6] & 0x0F) | 0x80);
        id[8] = (byte)((id[8] & 0x3F) | 0x80);
        return new(id, bigEndian: true);
    }

    /// <summary>What tells a repeat from a conflict: all that is asked for, so that a shipment of other units is another one.</summary>
    public byte[] ContentHash(UnitKey unit)
    {
        using var content = JsonSerializer.SerializeToDocument(new
        {
            type = "unit-shipped",
            unit = unit.ToString(),
            shipment = Id,
            consignee = Consignee,
            orderReference = OrderReference,
            person = Person.Value,
            station = Station?.Value,
            units = Units.Select(u => u.ToString()),
        });
        return FactContent.Hash(content.RootElement);
    }
}

/// <summary>Reads it.</summary>
internal static class ShipmentReader
{
    /// <summary>The most units of one shipment.</summary>
    public const int UnitsMax = 500;

    private static readonly Shape Form = new("shipmentId", "consignee", "orderReference", "person", "station", "units");

    /// <summary>The request, or every fault of it.</summary>
    public static (AskedShipment? Asked, ImmutableArray<Fault> Faults) Read(ReadOnlyMemory<byte> body)
    {
        JsonDocument document;
        try
        {
            document = JsonDocument.Parse(body, new() { MaxDepth = WireLimits.DepthMax });
        }
        catch (JsonException)
        {
            return (null, [new(string.Empty, "The body is not JSON. An object is expected; /docs shows its form.")]);
        }

        using (document)
        {
            var reading = new JsonReading();
            using var o = reading.Open(document.RootElement, Form);
            var asked = new AskedShipment(
                o.Id("shipmentId"),
                o.Text("consignee"),
                o.TextOrNull("orderReference"),
                o.Code<PersonCode>("person"),
                o.CodeOrNull<StationCode>("station"),
                o.List("units", Parts.Unit));
            if (document.RootElement.ValueKind == JsonValueKind.Object)
            {
                CheckUnits(o, asked.Units);
            }

            return reading.HasFaults ? (null, reading.Faults) : (asked, []);
        }
    }

    private static void CheckUnits(ObjectReading o, ImmutableArray<UnitKey> units)
    {
        if (units.IsEmpty || units.Length > UnitsMax)
        {
            o.Fail("units", $"Name the units that leave, 1 to {UnitsMax} of them.");
        }

        var once = new Once<UnitKey>(units.Length);
        for (var i = 0; i < units.Length; i++)
        {
            if (units[i] != default && !once.Add(units[i]))
            {
                o.Reading.Enter("units");
                o.Reading.Enter(i);
                o.Reading.Fail(null, "The unit is named twice.");
                o.Reading.Leave();
                o.Reading.Leave();
            }
        }
    }
}
