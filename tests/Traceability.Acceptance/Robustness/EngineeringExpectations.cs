namespace Traceability.Acceptance.Robustness;

/// <summary>What is expected of the endpoints about revisions, people and fits.</summary>
internal static class EngineeringExpectations
{
    private const string Malformed = "question-malformed";

    /// <summary>All; they name what <see cref="LampWorks"/> defines and lamp 1.</summary>
    public static Expectation[] All() =>
    [
        new("GET /api/people/qualifications", "/api/people/qualifications")
        {
            BadQueries = [("qualification=%20", "qualification"), ("expiringBefore=tomorrow", "expiringBefore"), ("expiringBefore=2026-03-01", "expiringBefore"), ("limit=0", "limit"), ("limit=1001", "limit"), ("limit=x", "limit"), ("after=%20", "after"), ("limit=1&limit=2", "limit")],
        },
        new("GET /api/routings/{item}/differences", "/api/routings/LAMP/differences?from=A&to=B")
        {
            BadQueries = [("to=B", "from"), ("from=A", "to"), ("from=%20&to=B", "from"), ("from=A&to=", "to"), ("from=A&from=B&to=B", "from")],
            Unknown = [("/api/routings/NONE/differences?from=A&to=B", "definition-unknown", "item"), ("/api/routings/LAMP/differences?from=Z&to=B", "revision-unknown", "from"), ("/api/routings/LAMP/differences?from=A&to=Z", "revision-unknown", "to")],
        },
        new("GET /api/routings/{item}/effectivity", "/api/routings/LAMP/effectivity") { Unknown = [("/api/routings/NONE/effectivity", "definition-unknown", "item")] },
        MovePlans(),
        Fits(),
    ];

    private static Expectation MovePlans() => new("POST /api/routings/{item}/move-plans", "/api/routings/LAMP/move-plans")
    {
        MediaType = "application/json",
        MalformedCode = Malformed,
        Body = """{"to":"B","reason":"better glue","authorisedBy":"P-9"}""",
        Unknown = [("/api/routings/NONE/move-plans", "definition-unknown", "item")],
        Bodies =
        [
            ("no reason", """{"to":"B","authorisedBy":"P-9"}""", 400, Malformed, ["/reason"]),
            ("an empty reason", """{"to":"B","reason":" ","authorisedBy":"P-9"}""", 400, Malformed, ["/reason"]),
            ("an unknown revision", """{"to":"Z","reason":"r","authorisedBy":"P-9"}""", 404, "revision-unknown", ["/to"]),
            ("an unknown revision to come from", """{"to":"B","from":"Z","reason":"r","authorisedBy":"P-9"}""", 404, "revision-unknown", ["/from"]),
            ("the same revision", """{"to":"B","from":"B","reason":"r","authorisedBy":"P-9"}""", 400, Malformed, ["/from"]),
            ("a range without a unit", """{"to":"B","serialFrom":"9","serialTo":"8","reason":"r","authorisedBy":"P-9"}""", 400, Malformed, ["/serialTo"]),
            ("too many", """{"to":"B","limit":201,"reason":"r","authorisedBy":"P-9"}""", 400, Malformed, ["/limit"]),
            ("a member twice", """{"to":"B","to":"B","reason":"r","authorisedBy":"P-9"}""", 400, Malformed, ["/to"]),
            ("everything wrong", """{"from":1,"serialFrom":[],"serialTo":{},"limit":0,"after":" ","x":0}""", 400, Malformed, ["/to", "/from", "/serialFrom", "/serialTo", "/reason", "/authorisedBy", "/limit", "/after", "/x"]),
        ],
    };

    private static Expectation Fits() => new("POST /api/units/{item}/{serial}/steps/{step}/fits", "/api/units/LAMP/1/steps/TEST/fits")
    {
        MediaType = "application/json",
        MalformedCode = Malformed,
        Body = """{"characteristic":"GAP","sizes":[{"name":"S1","value":0.5,"unit":"mm"}]}""",
        Unknown = [("/api/units/LAMP/404/steps/TEST/fits", "unit-unknown", "serial"), ("/api/units/LAMP/1/steps/NONE/fits", "definition-unknown", "/characteristic")],
        Bodies =
        [
            ("no characteristic", "{}", 400, Malformed, ["/characteristic"]),
            ("a check", """{"characteristic":"OK"}""", 404, "definition-unknown", ["/characteristic"]),
            ("a size without a number", """{"characteristic":"GAP","sizes":[{"name":"S1","unit":"mm"}]}""", 400, Malformed, ["/sizes/0/value"]),
            ("a word for a size", """{"characteristic":"GAP","sizes":[{"name":"S1","value":"NaN","unit":"mm"}]}""", 400, Malformed, ["/sizes/0/value"]),
            ("an infinite size", """{"characteristic":"GAP","sizes":[{"name":"S1","value":1e999,"unit":"mm"}]}""", 400, Malformed, ["/sizes/0/value"]),
            ("an unknown unit of measure", """{"characteristic":"GAP","sizes":[{"name":"S1","value":1,"unit":"smoot"}]}""", 400, Malformed, ["/sizes/0/unit"]),
            ("a negative uncertainty", """{"characteristic":"GAP","sizes":[{"name":"S1","value":1,"unit":"mm","standardUncertainty":-1}]}""", 400, Malformed, ["/sizes/0/standardUncertainty"]),
            ("too many mates", """{"characteristic":"GAP","mates":{"item":"HEAD","step":"BOND","characteristic":"RIM","limit":201}}""", 400, Malformed, ["/mates/limit"]),
            ("everything wrong", """{"characteristic":1,"sizes":{},"mates":{"x":1},"y":0}""", 400, Malformed, ["/characteristic", "/sizes", "/mates/item", "/mates/step", "/mates/characteristic", "/mates/x", "/y"]),
        ],
    };
}
