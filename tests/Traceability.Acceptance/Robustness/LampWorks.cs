using System.Globalization;
using System.Text.Json;
using System.Text.Json.Nodes;

namespace Traceability.Acceptance.Robustness;

/// <summary>A fact as a terminal sends it.</summary>
/// <param name="Id">The id that its sender chose.</param>
/// <param name="Type">Its type.</param>
/// <param name="Json">The body.</param>
/// <param name="ClockError">How far the terminal's clock is ahead, in whole seconds.</param>
internal sealed record Sent(Guid Id, string Type, string Json, TimeSpan ClockError);

/// <summary>A small works that builds hand lamps with a serialised head: definitions, and facts about them. All figures are invented.</summary>
/// <param name="seed">Chooses the ids.</param>
/// <param name="start">The moment that minutes count from; in the past.</param>
internal sealed class LampWorks(ulong seed, DateTimeOffset start)
{
    private readonly Dice dice = new(seed);

    /// <summary>A station that steps are done at.</summary>
    public const string Bench = "ST-1";

    /// <summary>The station that decisions are made at.</summary>
    public const string Desk = "DESK";

    /// <summary>A moment long enough ago for a history of four days to be over.</summary>
    public static DateTimeOffset DaysAgo(int days)
    {
        var now = TimeProvider.System.GetUtcNow();
        return new DateTimeOffset(now.Year, now.Month, now.Day, 20, 0, 0, TimeSpan.Zero).AddDays(-days);
    }

    /// <summary>A time as the terminal writes it.</summary>
    public string Time(double minutes, TimeSpan error = default) =>
        (start.AddMinutes(minutes) + error).ToString("yyyy-MM-dd'T'HH:mm:ss.fffzzz", CultureInfo.InvariantCulture);

    /// <summary>A new id.</summary>
    public Guid Id() => dice.Id();

    /// <summary>A fact of the bench, by a right clock.</summary>
    public Sent Fact(string type, double at, string members) => Fact(type, at, TimeSpan.Zero, Bench, "P-1", members);

    /// <summary>A fact; <paramref name="members"/> is the inside of a JSON object, with the times that the terminal shows.</summary>
    public Sent Fact(string type, double at, TimeSpan error, string? station, string? person, string members)
    {
        var id = Id();
        return new(id, type, $$"""{"factId":"{{id}}",{{Content(type, at, error, station, person, members)}}}""", error);
    }

    /// <summary>The inside of a fact without its id, as a replacement needs it.</summary>
    public string Content(string type, double at, TimeSpan error, string? station, string? person, string members) =>
        $"\"type\":\"{type}\",\"occurredAt\":\"{Time(at, error)}\""
        + (station is null ? string.Empty : $",\"station\":\"{station}\"")
        + (person is null ? string.Empty : $",\"person\":\"{person}\"")
        + (members.Length == 0 ? string.Empty : "," + members);

    /// <summary>Something defined: no station, no person.</summary>
    public Sent Define(string type, double at, string members) => Fact(type, at, TimeSpan.Zero, null, null, members);

    /// <summary>Sites, stations, items, people, tools, lots and the released routings: enough to build lamps by.</summary>
    public List<Sent> Definitions() =>
    [
        Define("site-defined", -900, """ "site":"WORKS","description":"Works","timeZone":"Europe/Lisbon" """),
        Define("site-defined", -900, """ "site":"DEPOT","description":"Depot","timeZone":"Pacific/Auckland" """),
        Define("station-defined", -899, """ "subject":"ST-1","site":"WORKS","description":"Bench" """),
        Define("station-defined", -899, """ "subject":"DESK","site":"WORKS","description":"Desk" """),
        Define("item-defined", -898, """ "item":"LAMP","kind":"product","description":"Hand lamp","variants":["P","C"] """),
        Define("item-defined", -898, """ "item":"HEAD","kind":"subassembly","description":"Lamp head" """),
        Define("item-defined", -898, """ "item":"ADH","kind":"consumable","description":"Adhesive","lifeAfterOpening":"PT8H" """),
        Define("item-defined", -898, """ "item":"GR","kind":"consumable","description":"Grease" """),
        Define("defect-code-defined", -897, """ "defect":"CHIP","description":"Chipped" """),
        Define("person-defined", -897, """ "subject":"P-1","displayName":"P-1" """),
        Define("person-defined", -897, """ "subject":"P-9","displayName":"P-9" """),
        Define("qualification-granted", -896, """ "subject":"P-1","qualification":"BONDING" """),
        Define("tool-defined", -896, """ "tool":"SD-1","toolClass":"SCREWDRIVER","description":"Driver","needsCalibration":true """),
        Define("tool-calibrated", -895, $$""" "tool":"SD-1","foundGood":true,"leftGood":true,"validUntil":"{{Time(100_000)}}","certificate":"C-1" """),
        Define("tool-setting-verified", -894, """ "tool":"SD-1","setting":"5","torque":{"value":1.2,"unit":"N.m"} """),
        Define("lot-received", -800, $$""" "lot":{"item":"ADH","lot":"L1"},"supplierLot":"S-1","isReleased":true,"quantity":{"value":500,"unit":"g"},"expiresAt":"{{Time(100_000)}}" """),
        Define("lot-received", -800, """ "lot":{"item":"GR","lot":"G1"},"isReleased":true """),
        Define("batch-formed", -799, """ "batch":{"item":"LAMP","batch":"B1"},"count":2 """),
        Fact("container-opened", -30, """ "lot":{"item":"ADH","lot":"L1"},"container":"T1" """),
        Define("routing-drafted", -890, Head),
        Define("routing-released", -889, """ "item":"HEAD","revision":"A","releasedBy":"P-9" """),
        Define("routing-drafted", -890, Lamp("A", """ "serialTo":"20" """, "PT5M")),
        Define("routing-released", -889, """ "item":"LAMP","revision":"A","releasedBy":"P-9" """),
        Define("routing-drafted", -880, Lamp("B", """ "serialFrom":"21" """, "PT9M")),
        Define("routing-released", -879, """ "item":"LAMP","revision":"B","releasedBy":"P-9" """),
    ];

    /// <summary>A unit's key as a member.</summary>
    public static string Unit(string item, int serial) => FormattableString.Invariant($"\"unit\":{{\"item\":\"{item}\",\"serial\":\"{serial}\"}}");

    /// <summary>A lamp is opened and its first two steps are done, without trouble.</summary>
    public List<Sent> SimpleLamp(int serial, double at) =>
    [
        Fact("unit-opened", at, Unit("LAMP", serial) + ""","variant":"P" """),
        Fact("step-completed", at + 2, Unit("LAMP", serial) + $$""","step":"WIRE","startedAt":"{{Time(at + 1)}}","checks":[{"characteristic":"OK","passed":true}],"measurements":[{"characteristic":"DEPTH","value":5.00,"unit":"mm"}]"""),
        Fact("step-completed", at + 4, Unit("LAMP", serial) + ""","step":"GLUE","materials":[{"item":"ADH","lots":["L1"],"container":"T1","quantity":{"value":0.4,"unit":"g"}}]"""),
    ];

    /// <summary>The body with another value of one member at its top.</summary>
    public static string With(string json, string member, JsonNode? value)
    {
        var body = JsonNode.Parse(json)!.AsObject();
        body[member] = value;
        return body.ToJsonString(JsonSerializerOptions.Web);
    }

    private const string Head =
        """
        "revision":{"item":"HEAD","revision":"A","description":"First","steps":[
          {"code":"BOND","name":"Bond the lens","materials":[{"code":"GLUE","item":"ADH","tracing":"lot"}],
           "characteristics":[{"code":"RIM","name":"Rim","unit":"mm","lower":{"constant":1},"upper":{"constant":3}}]},
          {"code":"TRY","name":"Try the lens","prerequisites":["BOND"],"characteristics":[{"code":"OK","name":"Holds"}]}],
         "intervals":[{"code":"SET","name":"Set","from":{"step":"BOND","kind":"completed"},"to":{"step":"TRY","kind":"started"},"minimum":"PT10M","maximum":"PT3H"}]}
        """;

    private static string Lamp(string revision, string effectivity, string cure) =>
        $$$"""
        "revision":{"item":"LAMP","revision":"{{{revision}}}","description":"As {{{revision}}}","effectivity":{ {{{effectivity}}} },"steps":[
          {"code":"WIRE","name":"Wire","characteristics":[{"code":"OK","name":"Seated"},
            {"code":"DEPTH","name":"Depth","unit":"mm","lower":{"constant":2},"upper":{"constant":10},"guardBand":0.5}]},
          {"code":"GLUE","name":"Glue","prerequisites":["WIRE"],"qualification":"BONDING","cautions":["Vapour"],
           "materials":[{"code":"GLUE","item":"ADH","tracing":"container","quantityMax":{"value":0.5,"unit":"g"}}]},
          {"code":"MARRY","name":"Marry","prerequisites":["GLUE"],"components":[{"position":"HEAD","item":"HEAD","mustBeReleased":true}]},
          {"code":"SCREW","name":"Screw","tools":[{"code":"DRIVER","toolClass":"SCREWDRIVER","setting":"5","torqueMin":{"value":1.1,"unit":"N.m"},"torqueMax":{"value":1.3,"unit":"N.m"}}]},
          {"code":"CLOSE","name":"Close","prerequisites":["MARRY","SCREW"],"isPointOfNoReturn":true,"hides":["WIRE","GLUE"]},
          {"code":"TEST","name":"Test","prerequisites":["CLOSE"],"characteristics":[{"code":"OK","name":"Lights"},
            {"code":"GAP","name":"Gap","unit":"mm","upper":{"constant":1,"terms":[{"factor":0.5,"step":"WIRE","characteristic":"DEPTH"},{"factor":-1,"position":"HEAD","step":"BOND","characteristic":"RIM"}]}}]}],
         "intervals":[
          {"code":"CURE","name":"Cure","from":{"step":"GLUE","kind":"completed"},"to":{"step":"MARRY","kind":"started"},"minimum":"{{{cure}}}","maximum":"PT60M"},
          {"code":"POT","name":"Pot life","from":{"step":"GLUE","kind":"container-opened","name":"GLUE"},"to":{"step":"GLUE","kind":"completed"},"maximum":"PT4H"},
          {"code":"RUN","name":"Run in","from":{"step":"CLOSE","kind":"started"},"to":{"step":"TEST","kind":"completed"},"minimum":"PT2M"}]}
        """;
}
