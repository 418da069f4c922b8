namespace Traceability.Acceptance.Robustness;

/// <summary>What is expected of the endpoints about containments.</summary>
internal static class ContainmentExpectations
{
    private const string Malformed = "question-malformed";
    private const string Id = "0b7c1b1e-7d0f-4f1a-9a57-2d6c3c0e9a11";
    private const string Suspect = "\"suspect\":{\"kind\":\"lot\",\"item\":\"ADH\",\"lot\":\"L1\"}";
    private const string Rest = "\"title\":\"t\",\"reason\":\"r\",\"person\":\"P-9\"";

    private static readonly (string, string)[] Page = [("limit=0", "limit"), ("limit=1001", "limit"), ("limit=x", "limit"), ("after=%20", "after"), ("colour=red", "colour")];

    /// <summary>All; they name what <see cref="LampWorks"/> defines. No case is opened.</summary>
    public static Expectation[] All() =>
    [
        new("GET /api/containments", "/api/containments") { BadQueries = [.. Page, ("state=gone", "state")] },
        new("GET /api/containments/{id}", "/api/containments/NONE") { Unknown = [("/api/containments/NONE", "containment-unknown", "id")] },
        new("GET /api/containments/{id}/members", "/api/containments/NONE/members")
        {
            BadQueries = [.. Page, ("only=some", "only")], Unknown = [("/api/containments/NONE/members", "containment-unknown", "id")],
        },
        new("GET /api/containments/{id}/consignees", "/api/containments/NONE/consignees")
        {
            BadQueries = Page, Unknown = [("/api/containments/NONE/consignees", "containment-unknown", "id")],
        },
        new("GET /api/containments/{id}/report", "/api/containments/NONE/report")
        {
            BadQueries = [("format=doc", "format"), ("format=", "format"), ("colour=red", "colour")], Unknown = [("/api/containments/NONE/report", "containment-unknown", "id")],
        },
        new("POST /api/containments/{id}/refresh", "/api/containments/NONE/refresh") { Unknown = [("/api/containments/NONE/refresh", "containment-unknown", "id")] },
        new("POST /api/containments/{id}/holds", "/api/containments/NONE/holds")
        {
            MediaType = "application/json",
            MalformedCode = Malformed,
            Body = """{"person":"P-9"}""",
            Unknown = [("/api/containments/NONE/holds", "containment-unknown", "id")],
            Bodies =
            [
                ("nobody", "{}", 400, Malformed, ["/person"]),
                ("a number for a person", """{"person":9}""", 400, Malformed, ["/person"]),
                ("an unknown member", """{"person":"P-9","colour":1}""", 400, Malformed, ["/colour"]),
                ("a member twice", """{"person":"P-9","person":"P-9"}""", 400, Malformed, ["/person"]),
            ],
        },
        new("POST /api/containments", "/api/containments")
        {
            MediaType = "application/json",
            MalformedCode = Malformed,
            Body = $$"""{"factId":"{{Id}}","containment":"C 1",{{Rest}},{{Suspect}}}""",
            Bodies =
            [
                ("nothing", "{}", 400, Malformed, ["/factId", "/containment", "/title", "/reason", "/suspect", "/person"]),
                ("a number with a space", $$"""{"factId":"{{Id}}","containment":"C 1",{{Rest}},{{Suspect}}}""", 400, Malformed, ["/containment"]),
                ("an empty title", $$"""{"factId":"{{Id}}","containment":"C-1","title":" ","reason":"r","person":"P-9",{{Suspect}}}""", 400, Malformed, ["/title"]),
                ("a text for a suspect", $$"""{"factId":"{{Id}}","containment":"C-1",{{Rest}},"suspect":"ADH/L1"}""", 400, Malformed, ["/suspect"]),
                ("an unknown kind of suspect", $$$"""{"factId":"{{{Id}}}","containment":"C-1",{{{Rest}}},"suspect":{"kind":"moon"}}""", 400, Malformed, ["/suspect/kind"]),
                ("a lot that nobody knows", $$$"""{"factId":"{{{Id}}}","containment":"C-1",{{{Rest}}},"suspect":{"kind":"lot","item":"ADH","lot":"NONE"}}""", 404, "lot-unknown", ["/suspect/lot"]),
                ("a text for a flag", $$"""{"factId":"{{Id}}","containment":"C-1",{{Rest}},{{Suspect}},"holdsLate":"yes"}""", 400, Malformed, ["/holdsLate"]),
                ("an unknown member", $$"""{"factId":"{{Id}}","containment":"C-1",{{Rest}},{{Suspect}},"members":[]}""", 400, Malformed, ["/members"]),
            ],
        },
    ];
}
