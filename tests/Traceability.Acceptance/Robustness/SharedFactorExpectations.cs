namespace Traceability.Acceptance.Robustness;

/// <summary>What is expected of the endpoint that finds shared factors.</summary>
internal static class SharedFactorExpectations
{
    private const string Malformed = "question-malformed";

    /// <summary>All; they name what <see cref="LampWorks"/> defines and lamp 1.</summary>
    public static Expectation[] All() =>
    [
        new("POST /api/shared-factors", "/api/shared-factors")
        {
            MediaType = "application/json",
            MalformedCode = Malformed,
            Body = """{"failure":{"item":"LAMP"}}""",
            Bodies =
            [
                ("nobody", "{}", 400, Malformed, ["/units"]),
                ("both", """{"units":[{"item":"LAMP","serial":"1"}],"failure":{"item":"LAMP"}}""", 400, Malformed, ["/units"]),
                ("a unit twice", """{"units":[{"item":"LAMP","serial":"1"},{"item":"LAMP","serial":"1"}]}""", 400, Malformed, ["/units"]),
                ("an unknown unit", """{"units":[{"item":"LAMP","serial":"1"},{"item":"LAMP","serial":"404"}]}""", 404, "unit-unknown", ["/units/1"]),
                ("an unknown kind of finding", """{"failure":{"item":"LAMP","kind":"bad-luck"}}""", 400, Malformed, ["/failure/kind"]),
                ("an error rate of nought", """{"failure":{"item":"LAMP"},"errorRate":0}""", 400, Malformed, ["/errorRate"]),
                ("an unknown kind of factor", """{"failure":{"item":"LAMP"},"kinds":["weather"]}""", 400, Malformed, ["/kinds"]),
                ("a period that ends before it begins", """{"failure":{"item":"LAMP"},"comparedFrom":"2026-03-02T00:00:00Z","comparedTo":"2026-03-01T00:00:00Z"}""", 400, Malformed, ["/comparedTo"]),
                ("a member twice", """{"failure":{"item":"LAMP"},"failure":{"item":"LAMP"}}""", 400, Malformed, ["/failure"]),
                ("everything wrong", """{"failure":{"item":1,"kind":2,"step":3,"rule":[],"from":"now","to":0,"x":1},"errorRate":"x","kinds":{},"y":0}""", 400, Malformed,
                    ["/failure/item", "/failure/kind", "/failure/step", "/failure/rule", "/failure/from", "/failure/to", "/failure/x", "/errorRate", "/kinds", "/y"]),
            ],
        },
    ];
}
