namespace Traceability.Acceptance.Robustness;

/// <summary>What is expected of the endpoints of shipments.</summary>
internal static class ShipmentExpectations
{
    private const string Malformed = "shipment-malformed";
    private const string Head = "\"shipmentId\":\"0b7c1b1e-7d0f-4f1a-9a57-2d6c3c0e9a12\",\"consignee\":\"Fell End Supplies\",\"person\":\"P-9\"";
    private const string Lamp = """{"item":"LAMP","serial":"1"}""";

    /// <summary>All; they name what <see cref="LampWorks"/> defines and lamp 1, which is not released.</summary>
    public static Expectation[] All() =>
    [
        new("GET /api/shipments", "/api/shipments?consignee=Fell%20End%20Supplies")
        {
            BadQueries = [("limit=5", "consignee"), ("consignee=%20", "consignee"), ("order=", "order"), ("order=x&limit=0", "limit"), ("order=x&from=now", "from"), ("order=x&to=2026-03-01", "to"), ("order=x&after=here", "after")],
        },
        new("POST /api/shipments", "/api/shipments")
        {
            MediaType = "application/json",
            MalformedCode = Malformed,
            Body = $$"""{ {{Head}},"units":[{{Lamp}}]}""",
            Bodies =
            [
                ("nothing", "{}", 400, Malformed, ["/shipmentId", "/consignee", "/person", "/units"]),
                ("no unit", $$"""{ {{Head}},"units":[]}""", 400, Malformed, ["/units"]),
                ("a unit twice", $$"""{ {{Head}},"units":[{{Lamp}},{{Lamp}}]}""", 400, Malformed, ["/units/1"]),
                ("a number for a unit", $$"""{ {{Head}},"units":[7]}""", 400, Malformed, ["/units/0"]),
                ("a time", $$"""{ {{Head}},"units":[{{Lamp}}],"occurredAt":"2026-03-01T00:00:00Z"}""", 400, Malformed, ["/occurredAt"]),
                ("an empty consignee", $$"""{ {{Head.Replace("Fell End Supplies", " ", StringComparison.Ordinal)}},"units":[{{Lamp}}]}""", 400, Malformed, ["/consignee"]),
                ("an unknown unit", $$"""{ {{Head}},"units":[{{Lamp}},{"item":"LAMP","serial":"404"}]}""", 404, "unit-unknown", ["/units/1"]),
                ("a person whom nobody knows", $$"""{ {{Head.Replace("P-9", "P-404", StringComparison.Ordinal)}},"units":[{{Lamp}}]}""", 404, "person-unknown", ["/person"]),
                ("a lamp that is not released", $$"""{ {{Head}},"units":[{{Lamp}}]}""", 409, "shipment-blocked", ["/units/0"]),
            ],
        },
    ];
}
