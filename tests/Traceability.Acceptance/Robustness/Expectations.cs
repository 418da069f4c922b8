namespace Traceability.Acceptance.Robustness;

/// <summary>What is expected of each endpoint, one entry for each: an endpoint without one fails the tests.</summary>
internal static class Expectations
{
    private const int KiB = 1024;
    private const string Id = "0b7c1b1e-7d0f-4f1a-9a57-2d6c3c0e9a11";

    private static readonly (string, string)[] Page = [("limit=0", "limit"), ("limit=1001", "limit"), ("limit=x", "limit"), ("limit=1e3", "limit"), ("after=%20", "after")];

    private static readonly (string, string)[] ScopePage =
        [("limit=0", "limit"), ("limit=NaN", "limit"), ("after=LAMP", "after"), ("include=all", "include"), ("clearedAfter=x%2Fy%2Fz", "clearedAfter")];

    private static readonly (string, string)[] Days =
        [("item=LAMP&from=2026-02-30", "from"), ("item=LAMP&to=tomorrow", "to"), ("item=LAMP&from=2026-03-02&to=2026-03-01", "to"), ("item=%20", "item"), ("item=LAMP&item=HEAD", "item"), ("from=2026-03-01", "item")];

    private static readonly (string, string)[] Moments =
        [("from=2026-03-01T08:00:00", "from"), ("from=2026-03-01", "from"), ("to=NaN", "to"), ("from=2026-03-02T00:00:00Z&to=2026-03-01T00:00:00Z", "to"), ("item=%20", "item")];

    /// <summary>All; facts name what <see cref="LampWorks"/> defines and lamp 1.</summary>
    public static IReadOnlyList<Expectation> All(LampWorks works) =>
    [
        new("GET /health/live", "/health/live"),
        new("GET /health/ready", "/health/ready"),
        new("GET /docs", "/docs"),
        new("GET /docs/reference.js", "/docs/reference.js"),
        new("GET /docs/reference.css", "/docs/reference.css"),
        new("GET /openapi.json", "/openapi.json"),
        new("GET /metrics", "/metrics"),
        new("GET /problems/{code}", "/problems/fact-malformed") { Unknown = [("/problems/none-such", "not-known", "code")] },
        .. Definitions(),
        .. Tools(),
        .. Keys(),
        .. Reads(),
        .. Releases(),
        .. Figures(),
        Readiness(),
        .. EngineeringExpectations.All(),
        .. SharedFactorExpectations.All(),
        .. ScopeQuestionExpectations.All(ScopePage),
        .. NarrowingExpectations.All(),
        .. ShipmentExpectations.All(),
        .. ContainmentExpectations.All(),
        new("POST /api/facts", "/api/facts")
        {
            MediaType = "application/json", BytesMax = 256 * KiB, MalformedCode = "fact-malformed", Body = works.SimpleLamp(500, 0)[0].Json, Bodies = FactCases.All(works),
        },
        new("POST /api/facts/batch", "/api/facts/batch")
        {
            MediaType = "application/x-ndjson", BytesMax = 64 * KiB * KiB, Body = works.SimpleLamp(501, 0)[0].Json,
        },
        new("POST /api/attachments", "/api/attachments")
        {
            MediaType = "image/png",
            AlsoTakes = ["text/plain"],
            BytesMax = 16 * KiB * KiB,
            MalformedCode = "attachment-malformed",
            Body = "no picture",
            Bodies = [("text for a picture", "no picture", 400, "attachment-malformed", [string.Empty]), ("nothing", string.Empty, 400, "attachment-malformed", [string.Empty])],
        },
        new("POST /api/history", "/api/history")
        {
            MediaType = "application/x-ndjson", BytesMax = int.MaxValue, Body = works.SimpleLamp(502, 0)[0].Json,
        },
        new("POST /api/rebuilds", "/api/rebuilds") { BadQueries = [("compareOnly=yes", "compareOnly"), ("compareOnly=", "compareOnly"), ("compareOnly=true&compareOnly=true", "compareOnly")] },
        new("GET /api/rebuilds", "/api/rebuilds"),
        MasterData(),
    ];

    private static Expectation[] Definitions() =>
    [
        new("GET /api/sites", "/api/sites") { BadQueries = Page },
        new("GET /api/stations", "/api/stations") { BadQueries = Page },
        new("GET /api/stations/{code}", "/api/stations/ST-1") { Unknown = [("/api/stations/NONE", "definition-unknown", "code")] },
        new("GET /api/defects", "/api/defects") { BadQueries = Page },
        new("GET /api/items", "/api/items") { BadQueries = Page },
        new("GET /api/items/{code}", "/api/items/LAMP") { Unknown = [("/api/items/NONE", "definition-unknown", "code")] },
        new("GET /api/tools", "/api/tools") { BadQueries = Page },
        new("GET /api/tools/{code}", "/api/tools/SD-1") { Unknown = [("/api/tools/NONE", "definition-unknown", "code")] },
        new("GET /api/people", "/api/people") { BadQueries = Page },
        new("GET /api/people/{code}", "/api/people/P-1") { Unknown = [("/api/people/NONE", "definition-unknown", "code")] },
        new("GET /api/routings/{code}", "/api/routings/LAMP") { Unknown = [("/api/routings/NONE", "definition-unknown", "code")] },
        new("GET /api/routings/{item}/{revision}", "/api/routings/LAMP/A")
        {
            Unknown = [("/api/routings/LAMP/Z", "revision-unknown", "revision"), ("/api/routings/NONE/A", "revision-unknown", "revision")],
        },
        new("GET /api/lots/{item}", "/api/lots/ADH") { BadQueries = Page },
        new("GET /api/lots/{item}/{lot}", "/api/lots/ADH/L1") { Unknown = [("/api/lots/ADH/NONE", "lot-unknown", "lot"), ("/api/lots/NONE/L1", "lot-unknown", "lot")] },
        new("GET /api/batches/{item}/{batch}", "/api/batches/LAMP/B1") { Unknown = [("/api/batches/LAMP/NONE", "batch-unknown", "batch"), ("/api/batches/NONE/B1", "batch-unknown", "batch")] },
        new("GET /api/lots/{item}/{lot}/lineage", "/api/lots/ADH/L1/lineage") { Unknown = [("/api/lots/ADH/NONE/lineage", "lot-unknown", "lot")] },
        new("GET /api/lots/{item}/{lot}/balance", "/api/lots/ADH/L1/balance") { Unknown = [("/api/lots/ADH/NONE/balance", "lot-unknown", "lot")] },
        new("GET /api/supplier-lots", "/api/supplier-lots?supplierLot=S-1")
        {
            Unknown = [("/api/supplier-lots?supplierLot=NONE", "lot-unknown", "supplierLot"), ("/api/supplier-lots?supplierLot=S-1&supplier=nobody", "lot-unknown", "supplierLot")],
            BadQueries = [("", "supplierLot"), ("supplierLot=%20", "supplierLot"), ("supplierLot=S-1&supplier=%20", "supplier")],
        },
        new("GET /api/supplier-lots/scope", "/api/supplier-lots/scope?supplierLot=S-1")
        {
            Unknown = [("/api/supplier-lots/scope?supplierLot=NONE", "lot-unknown", "supplierLot")],
            BadQueries =
            [
                ("limit=1", "supplierLot"), ("supplierLot=%20", "supplierLot"), ("supplierLot=S-1&supplier=%20", "supplier"),
                ("supplierLot=S-1&limit=0", "limit"), ("supplierLot=S-1&after=LAMP", "after"),
            ],
        },
    ];

    private static Expectation[] Tools() =>
    [
        new("GET /api/tools/{tool}/life", "/api/tools/SD-1/life") { Unknown = [("/api/tools/NONE/life", "tool-unknown", "tool")] },
        new("GET /api/tools/{tool}/capability", "/api/tools/SD-1/capability") { Unknown = [("/api/tools/NONE/capability", "tool-unknown", "tool")] },
        new("GET /api/tools/{tool}/drift", "/api/tools/SD-1/drift")
        {
            BadQueries = [("setting=%20", "setting"), ("from=2026-03-01", "from"), ("to=NaN", "to"), ("from=2026-03-02T00:00:00Z&to=2026-03-01T00:00:00Z", "to")],
            Unknown = [("/api/tools/NONE/drift", "tool-unknown", "tool")],
        },
        new("GET /api/tools/{tool}/uses", "/api/tools/SD-1/uses")
        {
            BadQueries =
            [
                ("setting=%20", "setting"), ("from=2026-03-01", "from"), ("to=NaN", "to"), ("from=2026-03-02T00:00:00Z&to=2026-03-01T00:00:00Z", "to"),
                ("suspectOnly=1", "suspectOnly"), ("limit=0", "limit"), ("limit=1001", "limit"), ("after=x", "after"),
            ],
            Unknown = [("/api/tools/NONE/uses", "tool-unknown", "tool")],
        },
    ];

    private static Expectation[] Keys() =>
    [
        new("GET /api/alarms", "/api/alarms"),
        new("GET /api/keys", "/api/keys"),
        new("DELETE /api/keys/{id}", $"/api/keys/{Id}") { Unknown = [($"/api/keys/{Id}", "key-not-known", "id")] },
        new("POST /api/keys", "/api/keys")
        {
            MediaType = "application/json",
            Body = """{"name":"n","role":"quality"}""",
            Bodies =
            [
                ("no name", """{"role":"quality"}""", 400, "body-malformed", ["/name"]),
                ("a number for a name", """{"name":5,"role":"quality"}""", 400, "body-malformed", ["/name"]),
                ("an empty name", """{"name":"","role":"quality"}""", 400, "key-malformed", ["/name"]),
                ("no such role", """{"name":"n","role":"king"}""", 400, "key-malformed", ["/role"]),
                ("a station's key without a station", """{"name":"n","role":"station"}""", 400, "key-malformed", ["/station"]),
                ("a station for another role", """{"name":"n","role":"quality","station":"ST-1"}""", 400, "key-malformed", ["/station"]),
                ("an unknown member", """{"name":"n","role":"quality","colour":"red"}""", 400, "body-malformed", ["/colour"]),
                ("a member twice", """{"name":"n","name":"m","role":"quality"}""", 400, "body-malformed", ["/name"]),
                ("a name that is taken", """{"name":"test-quality","role":"quality"}""", 409, "key-name-taken", ["/name"]),
                ("everything wrong", """{"name":5,"role":[],"station":{},"colour":1}""", 400, "body-malformed", ["/name", "/role", "/station", "/colour"]),
            ],
        },
    ];

    private static Expectation[] Reads() =>
    [
        new("GET /api/facts/{factId}", $"/api/facts/{Id}") { Unknown = [($"/api/facts/{Id}", "fact-unknown", "factId")] },
        new("GET /api/nonconformances/{item}/{serial}/{id}", $"/api/nonconformances/LAMP/1/{Id}")
        {
            Unknown = [($"/api/nonconformances/LAMP/1/{Id}", "nonconformance-unknown", "id"), ($"/api/nonconformances/LAMP/404/{Id}", "unit-unknown", "serial")],
        },
        new("GET /api/attachments/{hash}", $"/api/attachments/{new string('0', 64)}") { Unknown = [($"/api/attachments/{new string('0', 64)}", "attachment-unknown", "hash")] },
        new("GET /api/units", "/api/units?item=LAMP")
        {
            BadQueries = [("item=%20", "item"), ("", "item"), ("item=LAMP&place=moon", "place"), ("item=LAMP&limit=-1", "limit"), ("item=LAMP&limit=NaN", "limit"), ("item=LAMP&after=%0A", "after")],
        },
        new("GET /api/units/{item}/{serial}", "/api/units/LAMP/1") { Unknown = [("/api/units/LAMP/404", "unit-unknown", "serial"), ("/api/units/NONE/1", "unit-unknown", "serial")] },
        new("GET /api/units/{item}/{serial}/build-record", "/api/units/LAMP/1/build-record") { Unknown = [("/api/units/LAMP/404/build-record", "unit-unknown", "serial")] },
        new("GET /api/lots/{item}/{lot}/scope", "/api/lots/ADH/L1/scope")
        {
            BadQueries = ScopePage, Unknown = [("/api/lots/ADH/NONE/scope", "lot-unknown", "lot")],
        },
        new("GET /api/lots/{item}/{lot}/containers/{container}/scope", "/api/lots/ADH/L1/containers/T1/scope")
        {
            BadQueries = ScopePage, Unknown = [("/api/lots/ADH/NONE/containers/T1/scope", "lot-unknown", "lot")],
        },
    ];

    private static Expectation[] Releases()
    {
        const string path = "/api/units/LAMP/1/release";
        const string malformed = "release-malformed";
        const string person = "\"person\":\"P-9\"";
        return
        [
            new("GET /api/units/{item}/{serial}/structure", "/api/units/LAMP/1/structure")
            {
                BadQueries = [("asBuilt=yes", "asBuilt"), ("asOf=now", "asOf"), ("knownAt=2026-03-01", "knownAt"), ("asBuilt=true&asOf=2026-03-01T00:00:00Z", "asOf"), ("asOf=", "asOf")],
                Unknown =
                [
                    ("/api/units/LAMP/404/structure", "unit-unknown", "serial"),
                    ("/api/units/LAMP/1/structure?asBuilt=true", "unit-not-built", "asBuilt"),
                    ("/api/units/LAMP/1/structure?asOf=2001-01-01T00:00:00Z", "unit-unknown", "serial"),
                ],
            },
            new("GET /api/units/{item}/{serial}/release", path) { Unknown = [("/api/units/LAMP/404/release", "unit-unknown", "serial")] },
            new("POST /api/units/{item}/{serial}/release", path)
            {
                MediaType = "application/json",
                MalformedCode = malformed,
                Body = $$"""{"factId":"{{Id}}",{{person}},"secret":"never set here","meaning":"released"}""",
                Unknown = [("/api/units/LAMP/404/release", "unit-unknown", "serial")],
                Bodies =
                [
                    ("nothing", "{}", 400, malformed, ["/factId", "/person", "/secret", "/meaning"]),
                    ("no id", $$"""{ {{person}},"secret":"s","meaning":"m"}""", 400, malformed, ["/factId"]),
                    ("an empty meaning", $$"""{"factId":"{{Id}}",{{person}},"secret":"s","meaning":" "}""", 400, malformed, ["/meaning"]),
                    ("a number for a secret", $$"""{"factId":"{{Id}}",{{person}},"secret":5,"meaning":"m"}""", 400, malformed, ["/secret"]),
                    ("an unknown member", $$"""{"factId":"{{Id}}",{{person}},"secret":"s","meaning":"m","occurredAt":"2026-03-01T00:00:00Z"}""", 400, malformed, ["/occurredAt"]),
                    ("a person whom nobody knows", $$"""{"factId":"{{Id}}","person":"P-404","secret":"s","meaning":"m"}""", 404, "person-unknown", ["/person"]),
                    ("a lamp that is not complete", $$"""{"factId":"{{Id}}",{{person}},"secret":"s","meaning":"m"}""", 409, "release-blocked", [string.Empty]),
                ],
            },
            new("PUT /api/people/{person}/signing-secret", "/api/people/P-9/signing-secret")
            {
                MediaType = "application/json",
                MalformedCode = "signing-secret-malformed",
                Body = """{"secret":"of no great length"}""",
                Unknown = [("/api/people/P-404/signing-secret", "person-unknown", "person")],
                Bodies =
                [
                    ("no secret", "{}", 400, "signing-secret-malformed", ["/secret"]),
                    ("a short secret", """{"secret":"1234567"}""", 400, "signing-secret-malformed", ["/secret"]),
                    ("a long secret", $$"""{"secret":"{{new string('x', 129)}}"}""", 400, "signing-secret-malformed", ["/secret"]),
                    ("a list", """{"secret":["12345678"]}""", 400, "signing-secret-malformed", ["/secret"]),
                    ("an unknown member", """{"secret":"12345678","person":"P-9"}""", 400, "signing-secret-malformed", ["/person"]),
                ],
            },
            new("DELETE /api/people/{person}/signing-secret", "/api/people/P-9/signing-secret")
            {
                Unknown = [("/api/people/P-404/signing-secret", "person-unknown", "person")],
            },
        ];
    }

    private static Expectation[] Figures() =>
    [
        new("GET /api/yield/steps", "/api/yield/steps?item=LAMP")
        {
            BadQueries = [.. Days, ("item=LAMP&by=moon", "by"), ("item=LAMP&step=%20", "step"), ("item=LAMP&station=%20", "station"), ("item=LAMP&variant=%20", "variant")],
            Unknown = [("/api/yield/steps?item=NONE", "item-unknown", "item")],
        },
        new("GET /api/yield/units", "/api/yield/units?item=LAMP")
        {
            BadQueries = [.. Days, ("item=LAMP&by=step,step", "by")], Unknown = [("/api/yield/units?item=NONE", "item-unknown", "item")],
        },
        new("GET /api/yield/throughput", "/api/yield/throughput?item=LAMP")
        {
            BadQueries = [.. Days, ("item=LAMP&variant=%20", "variant"), ("item=LAMP&revision=%20", "revision")],
            Unknown = [("/api/yield/throughput?item=NONE", "item-unknown", "item"), ("/api/yield/throughput?item=LAMP&revision=Z", "revision-unknown", "revision")],
        },
        new("GET /api/intervals/open", "/api/intervals/open")
        {
            BadQueries = [("item=%20", "item"), ("station=%20", "station"), ("limit=0", "limit"), ("limit=1e999", "limit")],
            Unknown = [("/api/intervals/open?item=NONE", "item-unknown", "item"), ("/api/intervals/open?station=NONE", "station-unknown", "station")],
        },
        new("GET /api/intervals/violations", "/api/intervals/violations")
        {
            BadQueries = [.. Moments, ("limit=0", "limit")], Unknown = [("/api/intervals/violations?item=NONE", "item-unknown", "item")],
        },
        new("GET /api/nonconformances", "/api/nonconformances")
        {
            BadQueries =
            [
                .. Moments, ("serial=1", "serial"), ("state=gone", "state"), ("openOnly=1", "openOnly"), ("step=%20", "step"), ("defect=%20", "defect"), ("concession=%20", "concession"), ("limit=0", "limit"), ("after=x", "after"),
            ],
            Unknown = [("/api/nonconformances?item=NONE", "item-unknown", "item"), ("/api/nonconformances?item=LAMP&serial=404", "unit-unknown", "serial")],
        },
        new("GET /api/findings", "/api/findings")
        {
            BadQueries = [.. Moments, ("serial=1", "serial"), ("kind=none-such", "kind"), ("step=%20", "step"), ("defectsOnly=1", "defectsOnly"), ("limit=0", "limit"), ("after=x", "after"), ("limit=1&limit=2", "limit")],
            Unknown = [("/api/findings?item=NONE", "item-unknown", "item"), ("/api/findings?item=LAMP&serial=404", "unit-unknown", "serial")],
        },
        new("GET /api/findings/counts", "/api/findings/counts")
        {
            BadQueries = [.. Moments, ("serial=1", "serial"), ("kind=none-such", "kind"), ("step=%20", "step"), ("defectsOnly=", "defectsOnly")],
            Unknown = [("/api/findings/counts?item=NONE", "item-unknown", "item")],
        },
    ];

    private static Expectation Readiness() => new("POST /api/units/{item}/{serial}/steps/{step}/readiness", "/api/units/LAMP/1/steps/GLUE/readiness")
    {
        MediaType = "application/json",
        MalformedCode = "question-malformed",
        Body = """{"station":"ST-1"}""",
        Unknown = [("/api/units/LAMP/404/steps/GLUE/readiness", "unit-unknown", "serial")],
        Bodies =
        [
            ("a number for a station", """{"station":1}""", 400, "question-malformed", ["/station"]),
            ("a member twice", """{"station":"ST-1","station":"ST-1"}""", 400, "question-malformed", ["/station"]),
            ("an unknown member", """{"colour":"red"}""", 400, "question-malformed", ["/colour"]),
            ("a material without its item", """{"materials":[{"lots":["L1"]}]}""", 400, "question-malformed", ["/materials/0/item"]),
            ("a word for a quantity", """{"materials":[{"item":"ADH","quantity":{"value":"NaN","unit":"g"}}]}""", 400, "question-malformed", ["/materials/0/quantity/value"]),
            ("an infinite quantity", """{"materials":[{"item":"ADH","quantity":{"value":1e999,"unit":"g"}}]}""", 400, "question-malformed", ["/materials/0/quantity/value"]),
            ("an unknown unit of measure", """{"materials":[{"item":"ADH","quantity":{"value":1,"unit":"smoot"}}]}""", 400, "question-malformed", ["/materials/0/quantity/unit"]),
            ("everything wrong", """{"station":1,"person":[],"tools":{},"components":[{}],"x":0}""", 400, "question-malformed", ["/station", "/person", "/tools", "/components/0/position", "/components/0/component", "/x"]),
        ],
    };

    private static Expectation MasterData()
    {
        const string head = "\"asOf\":\"2026-01-05T08:00:00+01:00\"";
        return new("POST /api/master-data", "/api/master-data?dryRun=false")
        {
            MediaType = "application/json",
            MalformedCode = "master-data-malformed",
            BytesMax = 16 * KiB * KiB,
            Body = $$"""{ {{head}} }""",
            BadQueries = [("dryRun=maybe", "dryRun"), ("dryRun=", "dryRun")],
            Bodies =
            [
                ("no time", "{\"sites\":[]}", 400, "master-data-malformed", ["/asOf"]),
                ("a time without offset", "{\"asOf\":\"2026-01-05T08:00:00\"}", 400, "master-data-malformed", ["/asOf"]),
                ("an unknown section", $$"""{ {{head}},"moons":[]}""", 400, "master-data-malformed", ["/moons"]),
                ("a section twice", $$"""{ {{head}},"items":[],"items":[]}""", 400, "master-data-malformed", ["/items"]),
                ("a text for a list", $$"""{ {{head}},"items":"all"}""", 400, "master-data-malformed", ["/items"]),
                ("an unknown member", $$$"""{ {{{head}}},"items":[{"item":"X1","kind":"part","description":"d","colour":"red"}]}""", 400, "master-data-malformed", ["/items/0/colour"]),
                ("a missing member", $$$"""{ {{{head}}},"items":[{"item":"X1","kind":"part"}]}""", 400, "master-data-malformed", ["/items/0/description"]),
                ("a wrong kind", $$$"""{ {{{head}}},"items":[{"item":"X1","kind":"moon","description":"d"}]}""", 400, "master-data-malformed", ["/items/0/kind"]),
                ("an unknown site", $$$"""{ {{{head}}},"items":[{"item":"X1","kind":"part","description":"d"}],"stations":[{"station":"S9","site":"NONE","description":"d"}]}""", 400, "master-data-malformed", ["/stations/0/site"]),
                ("an unknown time zone", $$$"""{ {{{head}}},"items":[{"item":"X1","kind":"part","description":"d"}],"sites":[{"site":"S9","timeZone":"Moon/Base","description":"d"}]}""", 400, "master-data-malformed", ["/sites/0/timeZone"]),
                ("an infinite quantity", $$$"""{ {{{head}}},"lots":[{"item":"ADH","lot":"X1","isReleased":true,"quantity":{"value":.inf,"unit":"g"}}]}""", 400, "master-data-malformed", ["/lots/0/quantity/value"]),
                ("a word for a quantity", $$$"""{ {{{head}}},"lots":[{"item":"ADH","lot":"X1","isReleased":true,"quantity":{"value":"NaN","unit":"g"}}]}""", 400, "master-data-malformed", ["/lots/0/quantity/value"]),
                ("an unknown unit of measure", $$$"""{ {{{head}}},"lots":[{"item":"ADH","lot":"X1","isReleased":true,"quantity":{"value":1,"unit":"smoot"}}]}""", 400, "master-data-malformed", ["/lots/0/quantity/unit"]),
                ("a torque in seconds", $$$"""{ {{{head}}},"tools":[{"tool":"X1","toolClass":"SCREWDRIVER","description":"d","needsCalibration":false,"settings":[{"setting":"5","torque":{"value":1,"unit":"s"}}]}]}""", 400, "master-data-malformed", ["/tools/0/settings/0/torque/unit"]),
                ("a lot of other content", $$$"""{ {{{head}}},"items":[{"item":"X1","kind":"part","description":"d"}],"lots":[{"item":"ADH","lot":"L1","isReleased":false}]}""", 409, "master-data-malformed", ["/lots/0"]),
                ("everything wrong", $$$"""{"items":[{"item":"X 1","kind":"moon"}],"stations":[{"station":"S9","site":"NONE"}],"moons":[]}""", 400, "master-data-malformed", ["/asOf", "/items/0/item", "/items/0/kind", "/items/0/description", "/stations/0/description", "/moons"]),
            ],
        };
    }
}
