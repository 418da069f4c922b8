namespace Traceability.Acceptance.Robustness;

/// <summary>What is expected of the endpoints that narrow a scope and look at how lots are spread.</summary>
internal static class NarrowingExpectations
{
    private const string Malformed = "question-malformed";
    private const string Suspect = """ "suspect":{"kind":"lot","item":"ADH","lot":"L1"} """;

    /// <summary>All; they name what <see cref="LampWorks"/> defines.</summary>
    public static Expectation[] All() =>
    [
        new("GET /api/lots/dispersion", "/api/lots/dispersion")
        {
            BadQueries =
            [
                ("item=%20", "item"), ("from=2026-03-01", "from"), ("to=NaN", "to"), ("from=2026-03-02T00:00:00Z&to=2026-03-01T00:00:00Z", "to"),
                ("limit=0", "limit"), ("limit=1001", "limit"), ("after=x", "after"),
            ],
        },
        new("GET /api/lots/{item}/{lot}/dispersion", "/api/lots/ADH/L1/dispersion") { Unknown = [("/api/lots/ADH/NONE/dispersion", "lot-unknown", "lot")] },
        new("GET /api/lots/{item}/{lot}/reconciliation", "/api/lots/ADH/L1/reconciliation") { Unknown = [("/api/lots/ADH/NONE/reconciliation", "lot-unknown", "lot")] },
        new("POST /api/scopes/narrowing", "/api/scopes/narrowing")
        {
            MediaType = "application/json",
            MalformedCode = Malformed,
            Body = $$"""{ {{Suspect}} }""",
            Bodies =
            [
                ("nothing", "{}", 400, Malformed, ["/suspect"]),
                ("an unknown kind", """{"suspect":{"kind":"weather"}}""", 400, Malformed, ["/suspect/kind"]),
                ("an unknown lot", """{"suspect":{"kind":"lot","item":"ADH","lot":"NONE"}}""", 404, "lot-unknown", ["/suspect/lot"]),
                ("an unknown lot to compare with", $$$"""{ {{{Suspect}}},"alternatives":[{"suspect":{"kind":"lot","item":"ADH","lot":"NONE"}}]}""", 404, "lot-unknown", ["/alternatives/0/suspect/lot"]),
                ("an alternative without a suspect", $$$"""{ {{{Suspect}}},"alternatives":[{"name":"x"}]}""", 400, Malformed, ["/alternatives/0/suspect"]),
                ("an empty name", $$$"""{ {{{Suspect}}},"alternatives":[{"name":" ",{{{Suspect}}}}]}""", 400, Malformed, ["/alternatives/0/name"]),
                ("too many alternatives", $$$"""{ {{{Suspect}}},"alternatives":[{{{string.Join(',', Enumerable.Repeat($$"""{ {{Suspect}} }""", 21))}}}]}""", 400, Malformed, ["/alternatives"]),
                ("a member twice", $$"""{ {{Suspect}},{{Suspect}} }""", 400, Malformed, ["/suspect"]),
                ("everything wrong", """{"suspect":5,"alternatives":{},"x":1}""", 400, Malformed, ["/suspect", "/alternatives", "/x"]),
            ],
        },
    ];
}
