namespace Traceability.Acceptance.Robustness;

/// <summary>What is expected of questions for a scope, asked and saved.</summary>
internal static class ScopeQuestionExpectations
{
    private const string Malformed = "question-malformed";
    private const string Lot = """{"kind":"lot","item":"ADH","lot":"L1"}""";

    /// <summary>All; they name what <see cref="LampWorks"/> defines.</summary>
    /// <param name="page">Queries of an answer that can't be read.</param>
    public static Expectation[] All((string Query, string Pointer)[] page) =>
    [
        new("POST /api/scopes", "/api/scopes")
        {
            MediaType = "application/json",
            MalformedCode = Malformed,
            BadQueries = page,
            Body = $$"""{"suspect":{{Lot}} }""",
            Bodies = [.. Suspects(string.Empty)],
        },
        new("GET /api/scopes", "/api/scopes") { BadQueries = [("limit=0", "limit"), ("limit=1001", "limit"), ("after=%20", "after")] },
        new("GET /api/scopes/{name}", "/api/scopes/NONE") { Unknown = [("/api/scopes/NONE", "scope-question-unknown", "name")] },
        new("GET /api/scopes/{name}/members", "/api/scopes/NONE/members")
        {
            BadQueries = page, Unknown = [("/api/scopes/NONE/members", "scope-question-unknown", "name")],
        },
        new("PUT /api/scopes/{name}", "/api/scopes/ADH-L1")
        {
            MediaType = "application/json",
            MalformedCode = Malformed,
            Body = $$"""{"title":"Adhesive","suspect":{{Lot}} }""",
            Bodies =
            [
                .. Suspects("\"title\":\"Adhesive\","),
                ("no title", $$"""{"suspect":{{Lot}} }""", 400, Malformed, ["/title"]),
                ("a blank title", $$"""{"title":" ","suspect":{{Lot}} }""", 400, Malformed, ["/title"]),
                ("a title too long", $$"""{"title":"{{new string('x', 201)}}","suspect":{{Lot}} }""", 400, Malformed, ["/title"]),
            ],
        },
        new("DELETE /api/scopes/{name}", "/api/scopes/NONE") { Unknown = [("/api/scopes/NONE", "scope-question-unknown", "name")] },
    ];

    private static IEnumerable<(string What, string Body, int Status, string Code, string[] Pointers)> Suspects(string first)
    {
        (string What, string Suspect, string[] Pointers)[] malformed =
        [
            ("no kind", "{}", ["/suspect/kind"]),
            ("an unknown kind", """{"kind":"weather"}""", ["/suspect/kind"]),
            ("a lot without its item", """{"kind":"lot","lot":"L1"}""", ["/suspect/item"]),
            ("a narrowing that ends before it begins", """{"kind":"lot","item":"ADH","lot":"L1","from":"2026-03-02T00:00:00Z","to":"2026-03-01T00:00:00Z"}""", ["/suspect/to"]),
            ("work of nobody, nowhere", """{"kind":"work"}""", ["/suspect"]),
            ("a value without a bound", """{"kind":"measured","characteristic":"T"}""", ["/suspect"]),
            ("a bound in no unit", """{"kind":"measured","characteristic":"T","below":{"value":1,"unit":"Nm"}}""", ["/suspect/below/unit"]),
            ("an interval without a length", """{"kind":"interval","rule":"CURE"}""", ["/suspect"]),
            ("one of one", $$"""{"kind":"or","of":[{{Lot}}]}""", ["/suspect/of"]),
            ("nothing left out", $$"""{"kind":"except","of":{{Lot}} }""", ["/suspect/but"]),
            ("everything wrong", """{"kind":"and","of":[{"kind":"lot","item":1,"lot":"?"},{"kind":"tool","tool":[],"window":"x","colour":"red"}],"but":0}""",
                ["/suspect/of/0/item", "/suspect/of/0/lot", "/suspect/of/1/tool", "/suspect/of/1/window", "/suspect/of/1/colour", "/suspect/but"]),
        ];
        foreach (var (what, suspect, pointers) in malformed)
        {
            yield return (what, $$"""{ {{first}}"suspect":{{suspect}} }""", 400, Malformed, pointers);
        }

        if (first.Length > 0)
        {
            yield break;
        }

        yield return ("an unknown lot", """{"suspect":{"kind":"lot","item":"ADH","lot":"NONE"}}""", 404, "lot-unknown", ["/suspect/lot"]);
        yield return ("an unknown supplier's lot", """{"suspect":{"kind":"supplier-lot","supplierLot":"NONE"}}""", 404, "lot-unknown", ["/suspect/supplierLot"]);
        yield return ("an unknown tool", """{"suspect":{"kind":"tool","tool":"NONE"}}""", 404, "tool-unknown", ["/suspect/tool"]);
        yield return ("an unknown unit, deep inside", $$"""{"suspect":{"kind":"except","of":{{Lot}},"but":{"kind":"component","item":"LAMP","serial":"404"} } }""", 404, "unit-unknown", ["/suspect/but/serial"]);
    }
}
