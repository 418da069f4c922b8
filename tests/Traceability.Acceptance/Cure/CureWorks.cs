using System.Globalization;
using Traceability.Acceptance.Robustness;

namespace Traceability.Acceptance.Cure;

/// <summary>A small works in which sensors are bonded at two stations and cure there: definitions, and facts about them. All figures are invented.</summary>
/// <param name="seed">Chooses the ids.</param>
/// <param name="start">The moment that minutes count from; in the past.</param>
internal sealed class CureWorks(ulong seed, DateTimeOffset start)
{
    private const string ByCure = """ "temperature":{"requirement":"GLUE","state":"full","fallback":"PT90M","readingGapMax":"PT30M"} """;
    private const string OpenTime = """ "maximum":"PT30M","openTimeOf":"GLUE" """;
    private readonly LampWorks works = new(seed, start);

    /// <summary>Sites, stations, the adhesive with its table (60 min to full cure at 15 °C, 20 min at 25 °C), and the released routing.</summary>
    /// <param name="isOpenTime">The rule is on the open time instead: joined within 30 min, or what the table says of 40 min at 15 °C and 20 min at 25 °C.</param>
    public List<Sent> Definitions(bool isOpenTime = false) =>
    [
        works.Define("site-defined", -5_000, """ "site":"WORKS","description":"Works","timeZone":"Europe/Lisbon" """),
        works.Define("station-defined", -4_999, """ "subject":"ST-1","site":"WORKS","description":"Bench" """),
        works.Define("station-defined", -4_999, """ "subject":"ST-2","site":"WORKS","description":"Cold bench" """),
        works.Define("item-defined", -4_998, """ "item":"SENSOR","kind":"product","description":"Sensor" """),
        isOpenTime ? Spread(-4_998, "PT40M") : Adhesive(-4_998, "PT1H"),
        works.Define("person-defined", -4_997, """ "subject":"P-9","displayName":"P-9" """),
        works.Define("lot-received", -4_996, """ "lot":{"item":"ADH","lot":"L1"},"isReleased":true """),
        works.Define(
            "routing-drafted",
            -4_990,
            $$"""
            "revision":{"item":"SENSOR","revision":"A","description":"First","steps":[
              {"code":"BOND","name":"Bond","materials":[{"code":"GLUE","item":"ADH"}]},{"code":"LOAD","name":"Load"}],"intervals":[
              {"code":"CURE","name":"Cure","from":{"step":"BOND","kind":"completed"},"to":{"step":"LOAD","kind":"started"},
               {{(isOpenTime ? OpenTime : ByCure)}}}]}
            """),
        works.Define("routing-released", -4_989, """ "item":"SENSOR","revision":"A","releasedBy":"P-9" """),
    ];

    /// <summary>The adhesive is described, with its time to full cure at 15 °C.</summary>
    public Sent Adhesive(double at, string full) => works.Define(
        "item-defined",
        at,
        $$$$""" "item":"ADH","kind":"consumable","description":"Adhesive","cure":{"rows":[{"temperature":{"value":15,"unit":"Cel"},"full":"{{{{full}}}}"},{"temperature":{"value":25,"unit":"Cel"},"full":"PT20M"}]} """);

    /// <summary>The adhesive is described, with its open time at 15 °C.</summary>
    public Sent Spread(double at, string cool) => works.Define(
        "item-defined",
        at,
        $$$$""" "item":"ADH","kind":"consumable","description":"Adhesive","openTimeByTemperature":{"rows":[{"temperature":{"value":15,"unit":"Cel"},"time":"{{{{cool}}}}"},{"temperature":{"value":25,"unit":"Cel"},"time":"PT20M"}],"readingGapMax":"PT30M"} """);

    /// <summary>A sensor is opened and bonded.</summary>
    public List<Sent> Bonded(int serial, double at, string station) =>
    [
        works.Fact("unit-opened", at - 5, TimeSpan.Zero, station, "P-9", LampWorks.Unit("SENSOR", serial)),
        works.Fact("step-completed", at, TimeSpan.Zero, station, "P-9", LampWorks.Unit("SENSOR", serial) + ""","step":"BOND","materials":[{"item":"ADH","lots":["L1"]}]"""),
    ];

    /// <summary>A sensor is loaded.</summary>
    public Sent Loaded(int serial, double at) => works.Fact(
        "step-completed", at + 1, TimeSpan.Zero, "ST-1", "P-9", LampWorks.Unit("SENSOR", serial) + $$""","step":"LOAD","startedAt":"{{works.Time(at)}}" """);

    /// <summary>Temperatures were read; a day's end in UTC must not lie between them.</summary>
    public Sent Read(string place, params (double At, decimal Celsius)[] readings) =>
        works.Define("temperature-recorded", readings.Max(r => r.At), Readings(place, readings));

    /// <summary>A fact of temperatures is corrected.</summary>
    public Sent Corrected(Guid record, double at, string place, params (double At, decimal Celsius)[] readings) => works.Define(
        "record-corrected",
        at,
        $$""" "record":"{{record}}","reason":"Misread","authorisedBy":"P-9","replacement":{ {{works.Content("temperature-recorded", readings.Max(r => r.At), TimeSpan.Zero, null, null, Readings(place, readings))}} }""");

    /// <summary>A fact is void.</summary>
    public Sent Voided(Guid record, double at) => works.Define("record-voided", at, $$""" "record":"{{record}}","reason":"Another place","authorisedBy":"P-9" """);

    private string Readings(string place, (double At, decimal Celsius)[] readings) =>
        $"\"place\":\"{place}\",\"readings\":[{string.Join(',', readings.Select(r => string.Create(CultureInfo.InvariantCulture, $"{{\"at\":\"{works.Time(r.At)}\",\"temperature\":{{\"value\":{r.Celsius},\"unit\":\"Cel\"}}}}")))}]";
}
