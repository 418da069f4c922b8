using System.Globalization;
using Traceability.Acceptance.Robustness;

namespace Traceability.Acceptance.Batches;

/// <summary>A small works: housings soak in an oven as batches, get their serials when a bearing is dropped in, and are potted with a mix. All figures are invented.</summary>
/// <param name="seed">Chooses the ids.</param>
/// <param name="start">The moment that minutes count from; in the past.</param>
internal sealed class OvenWorks(ulong seed, DateTimeOffset start)
{
    private readonly LampWorks works = new(seed, start);

    /// <summary>Everything that is defined, with a routing: soak 20 to 60 min, transfer at most 2 min, cool-down at least 15 min, then potting.</summary>
    public List<Sent> Definitions() =>
    [
        works.Define("site-defined", -5_000, """ "site":"WORKS","description":"Works","timeZone":"Europe/Lisbon" """),
        works.Define("station-defined", -4_999, """ "subject":"ST-1","site":"WORKS","description":"Bench" """),
        works.Define("station-defined", -4_999, """ "subject":"OVENS","site":"WORKS","description":"Ovens" """),
        works.Define("item-defined", -4_998, """ "item":"HOUSING","kind":"subassembly","description":"Housing" """),
        works.Define("item-defined", -4_998, """ "item":"RESIN","kind":"consumable","description":"Resin" """),
        works.Define("item-defined", -4_998, """ "item":"HARD","kind":"consumable","description":"Hardener" """),
        works.Define("item-defined", -4_998, """ "item":"GR","kind":"consumable","description":"Grease" """),
        Mix(-4_997, "PT20M"),
        works.Define("person-defined", -4_996, """ "subject":"P-9","displayName":"P-9" """),
        works.Define("lot-received", -4_995, """ "lot":{"item":"RESIN","lot":"R1"},"isReleased":true,"quantity":{"value":1000,"unit":"g"} """),
        works.Define("lot-received", -4_995, """ "lot":{"item":"HARD","lot":"H1"},"isReleased":true,"quantity":{"value":500,"unit":"g"} """),
        works.Define("lot-received", -4_995, """ "lot":{"item":"GR","lot":"G1"},"isReleased":true """),
        works.Define("lot-received", -4_995, """ "lot":{"item":"GR","lot":"G2"},"isReleased":true """),
        works.Define("tool-defined", -4_994, """ "tool":"OV-1","toolClass":"OVEN","description":"Oven","needsCalibration":true """),
        Calibrated(-4_993, foundGood: true),
        works.Define(
            "routing-drafted",
            -4_990,
            """
            "revision":{"item":"HOUSING","revision":"A","description":"First","steps":[
              {"code":"SOAK","name":"Soak","tools":[{"code":"OVEN","toolClass":"OVEN"}],"materials":[{"code":"GREASE","item":"GR"}]},
              {"code":"DROP","name":"Drop the bearing in","prerequisites":["SOAK"]},
              {"code":"POT","name":"Pot","prerequisites":["DROP"],"materials":[{"code":"POTTING","item":"POTMIX"}]}],"intervals":[
              {"code":"SOAK","name":"Soak","from":{"step":"SOAK","kind":"started"},"to":{"step":"SOAK","kind":"completed"},"minimum":"PT20M","maximum":"PT60M"},
              {"code":"TRANSFER","name":"Transfer","from":{"step":"SOAK","kind":"completed"},"to":{"step":"DROP","kind":"started"},"maximum":"PT2M"},
              {"code":"COOL","name":"Cool-down","from":{"step":"DROP","kind":"completed"},"to":{"step":"POT","kind":"started"},"minimum":"PT15M"}]}
            """),
        works.Define("routing-released", -4_989, """ "item":"HOUSING","revision":"A","releasedBy":"P-9" """),
    ];

    /// <summary>The mix is described, with its pot life at 25 °C; 40 min at 15 °C.</summary>
    public Sent Mix(double at, string warm) => works.Define(
        "item-defined",
        at,
        $$$$""" "item":"POTMIX","kind":"consumable","description":"Potting mix","mix":{"parts":[{"item":"RESIN","amount":{"value":100,"unit":"g"}},{"item":"HARD","amount":{"value":50,"unit":"g"}}],"tolerance":0.05},"potLife":"PT30M","potLifeByTemperature":{"rows":[{"temperature":{"value":15,"unit":"Cel"},"time":"PT40M"},{"temperature":{"value":25,"unit":"Cel"},"time":"{{{{warm}}}}"}],"readingGapMax":"PT30M"} """);

    /// <summary>The oven is calibrated.</summary>
    public Sent Calibrated(double at, bool foundGood) => works.Define(
        "tool-calibrated", at, $$""" "tool":"OV-1","foundGood":{{(foundGood ? "true" : "false")}},"leftGood":true,"validUntil":"{{works.Time(100_000)}}" """);

    /// <summary>A mix is made.</summary>
    public Sent Mixed(string lot, double at, decimal hardener = 50) => Bench("lot-mixed", at, MixMembers(lot, hardener));

    /// <summary>A batch is formed.</summary>
    public Sent Formed(string batch, double at, int count = 3) => Ovens("batch-formed", at, $"{Batch(batch)},\"count\":{count}");

    /// <summary>A batch is split off another one.</summary>
    public Sent Split(string batch, string source, double at, int count) => Ovens("batch-split", at, SplitMembers(batch, source, count));

    /// <summary>A split is corrected.</summary>
    public Sent CorrectedSplit(Guid record, double at, string batch, string source, double splitAt, int count) =>
        Corrected(record, at, "batch-split", splitAt, "OVENS", SplitMembers(batch, source, count));

    /// <summary>A forming is corrected.</summary>
    public Sent CorrectedForming(Guid record, double at, string batch, double formedAt, int count) =>
        Corrected(record, at, "batch-formed", formedAt, "OVENS", $"{Batch(batch)},\"count\":{count}");

    /// <summary>An opening is corrected.</summary>
    public Sent CorrectedOpening(Guid record, double at, int serial, string batch, double openedAt) =>
        Corrected(record, at, "unit-opened", openedAt, "ST-1", $"{LampWorks.Unit("HOUSING", serial)},\"batch\":\"{batch}\"");

    /// <summary>A batch has soaked.</summary>
    public Sent Soaked(string batch, double from, double to, string grease = "G1") => Ovens("batch-step-completed", to, SoakMembers(batch, from, grease));

    /// <summary>A housing is taken out of a batch, and the bearing is dropped in.</summary>
    public List<Sent> Dropped(int serial, string batch, double at) =>
    [
        Bench("unit-opened", at, $"{LampWorks.Unit("HOUSING", serial)},\"batch\":\"{batch}\""),
        Bench("step-completed", at + 1, $"{LampWorks.Unit("HOUSING", serial)},\"step\":\"DROP\",\"startedAt\":\"{works.Time(at + 0.2)}\""),
    ];

    /// <summary>A housing is potted.</summary>
    public Sent Potted(int serial, string mix, double at) => Bench(
        "step-completed",
        at,
        $"{LampWorks.Unit("HOUSING", serial)},\"step\":\"POT\",\"startedAt\":\"{works.Time(at - 0.5)}\",\"materials\":[{{\"item\":\"POTMIX\",\"lots\":[\"{mix}\"],\"quantity\":{{\"value\":5,\"unit\":\"g\"}}}}]");

    /// <summary>Temperatures were read.</summary>
    public Sent Read(params (double At, decimal Celsius)[] readings) => works.Define("temperature-recorded", readings.Max(r => r.At), Readings(readings));

    /// <summary>A soak is corrected.</summary>
    public Sent CorrectedSoak(Guid record, double at, string batch, double from, double to, string grease = "G1") =>
        Corrected(record, at, "batch-step-completed", to, "OVENS", SoakMembers(batch, from, grease));

    /// <summary>A mixing is corrected.</summary>
    public Sent CorrectedMix(Guid record, double at, string lot, double mixedAt, decimal hardener) =>
        Corrected(record, at, "lot-mixed", mixedAt, "ST-1", MixMembers(lot, hardener));

    /// <summary>A reading is corrected.</summary>
    public Sent CorrectedReading(Guid record, double at, params (double At, decimal Celsius)[] readings) =>
        Corrected(record, at, "temperature-recorded", readings.Max(r => r.At), null, Readings(readings));

    /// <summary>A fact is void.</summary>
    public Sent Voided(Guid record, double at) => works.Define("record-voided", at, $$""" "record":"{{record}}","reason":"Another one","authorisedBy":"P-9" """);

    /// <summary>A lot is held.</summary>
    public Sent Held(string item, string lot, double at) => works.Define("lot-quarantined", at, $$""" "lot":{"item":"{{item}}","lot":"{{lot}}"},"reason":"Doubt" """);

    /// <summary>Any other fact of the desk.</summary>
    public Sent Define(string type, double at, string members) => works.Define(type, at, members);

    private Sent Corrected(Guid record, double at, string type, double happenedAt, string? station, string members) => works.Define(
        "record-corrected",
        at,
        $$""" "record":"{{record}}","reason":"Misread","authorisedBy":"P-9","replacement":{ {{works.Content(type, happenedAt, TimeSpan.Zero, station, station is null ? null : "P-9", members)}} }""");

    private Sent Bench(string type, double at, string members) => works.Fact(type, at, TimeSpan.Zero, "ST-1", "P-9", members);

    private Sent Ovens(string type, double at, string members) => works.Fact(type, at, TimeSpan.Zero, "OVENS", "P-9", members);

    private static string Batch(string batch) => $"\"batch\":{{\"item\":\"HOUSING\",\"batch\":\"{batch}\"}}";

    private static string SplitMembers(string batch, string source, int count) => $"{Batch(batch)},\"source\":\"{source}\",\"count\":{count}";

    private string SoakMembers(string batch, double from, string grease) =>
        $"{Batch(batch)},\"step\":\"SOAK\",\"startedAt\":\"{works.Time(from)}\",\"tools\":[{{\"tool\":\"OV-1\"}}],\"materials\":[{{\"item\":\"GR\",\"lots\":[\"{grease}\"]}}]";

    private static string MixMembers(string lot, decimal hardener) => string.Create(
        CultureInfo.InvariantCulture,
        $"\"lot\":{{\"item\":\"POTMIX\",\"lot\":\"{lot}\"}},\"parts\":[{{\"lot\":{{\"item\":\"RESIN\",\"lot\":\"R1\"}},\"quantity\":{{\"value\":100,\"unit\":\"g\"}}}},{{\"lot\":{{\"item\":\"HARD\",\"lot\":\"H1\"}},\"quantity\":{{\"value\":{hardener},\"unit\":\"g\"}}}}]");

    private string Readings((double At, decimal Celsius)[] readings) =>
        $"\"place\":\"ST-1\",\"readings\":[{string.Join(',', readings.Select(r => string.Create(CultureInfo.InvariantCulture, $"{{\"at\":\"{works.Time(r.At)}\",\"temperature\":{{\"value\":{r.Celsius},\"unit\":\"Cel\"}}}}")))}]";
}
