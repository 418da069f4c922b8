using System.Text;
using System.Text.Json;
using System.Text.Json.Nodes;
using Traceability.Contracts;
using Traceability.Contracts.Facts;
using Traceability.Domain.Primitives;
using Traceability.Service.Http.Reading;
using Traceability.Service.Storage;
using Xunit;

namespace Traceability.Service.Tests.Reading;

public sealed class FactReaderTests
{
    // What the service alone records is never read from a client.
    public static TheoryData<string> StoredNames => [.. EventNames.All.Select(e => e.Name).Where(n => FactType.Names.Contains(n.Replace('_', '-')))];

    [Theory]
    [MemberData(nameof(StoredNames))]
    public void What_a_client_writes_is_what_is_stored(string storedName)
    {
        var message = JsonSerializer.Deserialize<FactMessage>(WireSamples.Of(storedName), WireJson.Options);
        var sent = JsonSerializer.SerializeToUtf8Bytes(message, WireJson.Options);

        var reading = FactReader.Read(sent);

        Assert.Empty(reading.Faults);
        Assert.Equal(WireSamples.Id, reading.Fact!.Id);
        Assert.Equal(storedName, EventNames.Of(reading.Fact.Fact.GetType()));
        var stored = JsonNode.Parse(FactCodec.Serialize(reading.Fact.Fact));
        Assert.Equal(WireSamples.Sorted(WireSamples.Content(storedName)), WireSamples.Sorted(stored));
    }

    [Theory]
    [MemberData(nameof(StoredNames))]
    public void Every_member_that_is_missing_is_told_or_has_a_meaning(string storedName)
    {
        var whole = WireSamples.Of(storedName);
        foreach (var name in whole.Select(m => m.Key).ToArray())
        {
            var body = WireSamples.Of(storedName);
            body.Remove(name);

            var reading = FactReader.Read(WireSamples.Bytes(body));

            Assert.All(reading.Faults, f => Assert.StartsWith($"/{name}", f.Pointer, StringComparison.Ordinal));
            Assert.True(reading.Fact is null == reading.Faults.Length > 0);
        }
    }

    [Fact]
    public void A_whole_list_of_faults_comes_at_once()
    {
        const string Body = """
            {"factId":"x","type":"step-completed","occurredAt":"2026-03-02T08:15:00","station":"A B",
             "unit":{"item":"FP-2","serial":7,"lot":"L"},"step":null,"startedAt":"yesterday","isRework":"yes",
             "measurements":[{"characteristic":"T","value":"NaN","unit":"Nm"},{"characteristic":"U","value":1e40,"unit":"m"},{"characteristic":"V","value":1,"unit":"m"},{"characteristic":"V","value":2,"unit":"m"}],
             "checks":[{"characteristic":"V"}],"mesurements":[],"defects":{"defect":"LEAK"},"note":5,"note":"x","clock":{},"a/b~c":1}
            """;

        var faults = FaultsOf(Body);

        Assert.Equal(
            "/a~1b~0c /checks/0/characteristic /checks/0/passed /clock /defects /factId /isRework "
            + "/measurements/0/unit /measurements/0/value /measurements/1/value /measurements/3/characteristic "
            + "/mesurements /note /occurredAt /startedAt /station /step /unit/lot /unit/serial",
            PointersOf(faults.OrderBy(f => f.Pointer, StringComparer.Ordinal)));
        Assert.Contains("Did you mean 'measurements'?", Detail(faults, "/mesurements"), StringComparison.Ordinal);
        Assert.Contains("Did you mean 'N.m'?", Detail(faults, "/measurements/0/unit"), StringComparison.Ordinal);
        Assert.Contains("offset is missing", Detail(faults, "/occurredAt"), StringComparison.Ordinal);
        Assert.Contains("NaN", Detail(faults, "/measurements/0/value"), StringComparison.Ordinal);
        Assert.Contains("twice", Detail(faults, "/note"), StringComparison.Ordinal);
    }

    [Theory]
    [InlineData("/occurredAt", "\"2026-03-02\"")]
    [InlineData("/occurredAt", "\"2026-03-02T08:15:00\"")]
    [InlineData("/occurredAt", "\"2026-02-30T08:15:00Z\"")]
    [InlineData("/occurredAt", "\"1969-12-31T23:59:59Z\"")]
    [InlineData("/occurredAt", "\"2200-01-01T00:00:00Z\"")]
    [InlineData("/occurredAt", "\"\"")]
    [InlineData("/occurredAt", "1772439300")]
    [InlineData("/unit", "[]")]
    [InlineData("/unit/serial", "\"\"")]
    [InlineData("/unit/serial", "\"..\"")]
    [InlineData("/unit/serial", "\"000000000000000000001\"")]
    [InlineData("/unit/serial", "\"HALF-PAIR\"")]
    [InlineData("/marks/0/at", "\"2026-03-02T08:03:29+01:00\"")]
    [InlineData("/marks/1/at", "\"2026-03-02T08:15:31+01:00\"")]
    [InlineData("/marks/1/name", "\"OVEN-IN\"")]
    [InlineData("/materials/0/quantity/value", "-0.1")]
    [InlineData("/materials/0/quantity/value", "0.12345678901234567890123456789")]
    [InlineData("/materials/0/quantity/unit", "\"\"")]
    [InlineData("/materials/0/lots/1", "true")]
    [InlineData("/measurements/0/value", "1e29")]
    [InlineData("/measurements/0/value", "\"Infinity\"")]
    [InlineData("/measurements/0/value", "null")]
    [InlineData("/measurements/0/unit", "\"newtons\"")]
    [InlineData("/checks/0/passed", "1")]
    [InlineData("/checks/0/characteristic", "\"TORQUE\"")]
    [InlineData("/components/0/component", "{\"item\":\"FP-2\",\"serial\":\"000123\"}")]
    [InlineData("/defects/0/count", "0")]
    [InlineData("/defects/0/count", "1.5")]
    [InlineData("/note", "\"a\\u0000b\"")]
    public void A_wrong_value_is_told_at_its_place_and_nowhere_else(string pointer, string value)
    {
        var body = WireSamples.Of("step_completed");
        Replace(body, pointer, JsonNode.Parse(value));

        var faults = FaultsOf(WireSamples.Text(body));

        Assert.Equal(pointer, PointersOf(faults));
    }

    [Theory]
    [InlineData("item_defined", "/kind", "\"gadget\"", "part, consumable, subassembly, product")]
    [InlineData("item_defined", "/lifeAfterOpening", "\"P1M\"", "ISO 8601")]
    [InlineData("item_defined", "/lifeAfterOpening", "\"-PT1S\"", "negative")]
    [InlineData("item_defined", "/description", "\"  \"", "empty")]
    [InlineData("tool_setting_verified", "/torque/unit", "\"mm\"", "torque")]
    [InlineData("record_corrected", "/replacement/type", "\"record-voided\"", "can't be the replacement")]
    [InlineData("record_corrected", "/replacement/type", "\"step-complete\"", "Did you mean 'step-completed'?")]
    [InlineData("record_corrected", "/replacement/measurements/0/value", "\"1\"", "without quotes")]
    [InlineData("record_corrected", "/replacement/factId", "\"01890a5d-ac96-774b-bcce-b302099a8057\"", "takes the place")]
    [InlineData("record_corrected", "/record", "\"00000000-0000-0000-0000-000000000000\"", "UUID")]
    [InlineData("unit_opened", "/type", "\"UnitOpened\"", "Did you mean 'unit-opened'?")]
    [InlineData("routing_drafted", "/revision/steps", "[]", "at least one step")]
    [InlineData("routing_drafted", "/revision/steps/1/prerequisites/0", "\"BONDS\"", "Did you mean 'BOND'?")]
    [InlineData("routing_drafted", "/revision/steps/1/prerequisites/0", "\"MARRY\"", "itself")]
    [InlineData("routing_drafted", "/revision/steps/0/prerequisites", "[\"MARRY\"]", "circle")]
    [InlineData("routing_drafted", "/revision/steps/1/hides/0", "\"X\"", "no step X")]
    [InlineData("routing_drafted", "/revision/steps/0/hides", "[\"MARRY\"]", "point of no return")]
    [InlineData("routing_drafted", "/revision/steps/0/characteristics/1/code", "\"BORE\"", "twice")]
    [InlineData("routing_drafted", "/revision/steps/0/characteristics/0/upper/constant", "8.49", "below the lower limit")]
    [InlineData("routing_drafted", "/revision/steps/0/characteristics/0/guardBand", "-1", "negative")]
    [InlineData("routing_drafted", "/revision/steps/0/materials/0/quantityMax/value", "0.29", "is below the least")]
    [InlineData("routing_drafted", "/revision/steps/0/materials/0/quantityMax/unit", "\"mL\"", "one kind")]
    [InlineData("routing_drafted", "/revision/steps/1/tools/0/torqueMax/unit", "\"N\"", "torque")]
    [InlineData("routing_drafted", "/revision/steps/1/characteristics/0/lower/terms/0/step", "\"BON\"", "Did you mean 'BOND'?")]
    [InlineData("routing_drafted", "/revision/steps/1/characteristics/0/lower/terms/0/characteristic", "\"CLEAN\"", "pass/fail")]
    [InlineData("routing_drafted", "/revision/steps/1/characteristics/0/lower/terms/1/position", "\"HEAD\"", "no component position HEAD")]
    [InlineData("routing_drafted", "/revision/intervals/0/maximum", "\"PT7M59S\"", "shorter than the minimum")]
    [InlineData("routing_drafted", "/revision/intervals/0/to/step", "\"X\"", "no step X")]
    [InlineData("routing_drafted", "/revision/intervals/0/to/kind", "\"mark\"", "names the mark")]
    [InlineData("routing_drafted", "/revision/intervals/1/from/name", "\"GLUE\"", "no material requirement")]
    [InlineData("routing_drafted", "/revision/intervals/1/code", "\"CURE\"", "of its own")]
    [InlineData("routing_drafted", "/revision/effectivity/serialTo", "\"99\"", "comes before")]
    [InlineData("routing_drafted", "/revision/effectivity/openedBefore", "\"2026-02-20T08:15:30+01:00\"", "later than")]
    public void A_definition_that_contradicts_itself_is_told(string storedName, string pointer, string value, string detail)
    {
        var body = WireSamples.Of(storedName);
        Replace(body, pointer, JsonNode.Parse(value));

        var faults = FaultsOf(WireSamples.Text(body));

        Assert.Contains(faults, f => f.Detail.Contains(detail, StringComparison.Ordinal) && f.Pointer.StartsWith(pointer[..pointer.LastIndexOf('/')], StringComparison.Ordinal));
    }

    [Fact]
    public void A_limit_derived_from_a_value_of_another_kind_is_told()
    {
        var body = WireSamples.Of("routing_drafted");
        Replace(body, "/revision/steps/0/characteristics/0/unit", "g");

        var faults = FaultsOf(WireSamples.Text(body));

        Assert.Contains("mass", Detail(faults, "/revision/steps/1/characteristics/0/upper/terms/0/characteristic"), StringComparison.Ordinal);
    }

    [Theory]
    [InlineData("", "empty")]
    [InlineData("{\"factId\":", "line 1, byte")]
    [InlineData("{\n \"value\": NaN}", "line 2, byte 11. NaN and Infinity are not JSON numbers")]
    [InlineData("{} {}", "line 1")]
    [InlineData("[1]", "an array")]
    [InlineData("null", "null")]
    [InlineData("{}", "The member is missing")]
    public void What_is_no_fact_at_all_is_told(string body, string detail) =>
        Assert.Contains(FaultsOf(body), f => f.Detail.Contains(detail, StringComparison.Ordinal));

    [Fact]
    public void Too_many_levels_entries_or_letters_are_told()
    {
        Assert.Contains("levels", FaultsOf(new string('[', 40))[0].Detail, StringComparison.Ordinal);

        var body = WireSamples.Of("step_completed");
        body["note"] = new string('x', 2_001);
        body["materials"]![0]!["lots"] = new JsonArray([.. Enumerable.Repeat("L", 501).Select(l => (JsonNode)l)]);
        Assert.Equal("/materials/0/lots /note", PointersOf(FaultsOf(WireSamples.Text(body))));

        body["note"] = new string('x', 2_000);
        body["materials"]![0]!["lots"] = new JsonArray([.. Enumerable.Repeat("L", 500).Select(l => (JsonNode)l)]);
        Assert.Empty(FaultsOf(WireSamples.Text(body)));
    }

    [Fact]
    public void No_more_than_a_hundred_faults_are_told()
    {
        var body = WireSamples.Of("step_completed");
        body["measurements"] = new JsonArray([.. Enumerable.Range(0, 400).Select(_ => (JsonNode)new JsonObject())]);

        var faults = FaultsOf(WireSamples.Text(body));

        Assert.Equal(101, faults.Length);
        Assert.Equal(string.Empty, faults[^1].Pointer);
    }

    [Fact]
    public void Without_a_type_the_common_members_are_still_read() =>
        Assert.Equal("/type /factId /occurredAt", PointersOf(FaultsOf("""{"factId":"1","occurredAt":"now","step":"S"}""")));

    [Fact]
    public void A_step_that_starts_a_tick_after_it_was_completed_is_told()
    {
        var body = WireSamples.Of("step_completed");
        body.Remove("marks");
        body["startedAt"] = "2026-03-02T08:15:30.0000001+01:00";
        Assert.Equal("/startedAt", PointersOf(FaultsOf(WireSamples.Text(body))));

        body["startedAt"] = "2026-03-02T07:15:30Z";
        Assert.Empty(FaultsOf(WireSamples.Text(body)));
    }

    [Fact]
    public void A_name_that_is_no_text_is_a_fault_and_no_exception() =>
        Assert.Equal(string.Empty, FaultsOf(WireSamples.Text(WireSamples.Of("unit_released")).Replace("\"person\"", "\"perso\\ud800\"", StringComparison.Ordinal)).Single().Pointer);

    [Fact]
    public void Bytes_that_are_no_text_are_a_fault_and_no_exception()
    {
        var body = Encoding.UTF8.GetBytes(WireSamples.Of("unit_held").ToJsonString());
        body[body.AsSpan().IndexOf("Leak"u8)] = 0xFF;

        Assert.Equal("/reason", PointersOf(FactReader.Read(body).Faults));
    }

    private static System.Collections.Immutable.ImmutableArray<Fault> FaultsOf(string body) => FactReader.Read(Encoding.UTF8.GetBytes(body)).Faults;

    private static string PointersOf(IEnumerable<Fault> faults) => string.Join(' ', faults.Select(f => f.Pointer));

    private static string Detail(IEnumerable<Fault> faults, string pointer) => faults.First(f => string.Equals(f.Pointer, pointer, StringComparison.Ordinal)).Detail;

    private static void Replace(JsonNode body, string pointer, JsonNode? value)
    {
        var parts = pointer[1..].Split('/');
        var at = body;
        foreach (var part in parts[..^1])
        {
            at = at is JsonArray list ? list[int.Parse(part, System.Globalization.CultureInfo.InvariantCulture)]! : at[part]!;
        }

        if (at is JsonArray array)
        {
            array[int.Parse(parts[^1], System.Globalization.CultureInfo.InvariantCulture)] = value;
        }
        else
        {
            at[parts[^1]] = value;
        }
    }

    [Fact]
    public void An_id_where_none_is_taken_is_told_of_a_replacement_only_in_one()
    {
        var request = new JsonReading();
        using (request.Open(JsonSerializer.SerializeToElement(new { person = "P-9", factId = "x" }), new Shape("person")))
        {
            Assert.Equal("The member 'factId' is not known here.", Assert.Single(request.Faults).Detail);
        }

        var correction = FactReader.Read(Encoding.UTF8.GetBytes(
            """{"factId":"01890a5d-ac96-774b-bcce-b302099a8057","type":"record-corrected","occurredAt":"2026-03-02T09:00:00Z","record":"01890a5d-ac96-774b-bcce-b302099a8058","reason":"r","authorisedBy":"P-9","replacement":{"factId":"x","type":"unit-released","occurredAt":"2026-03-02T08:00:00Z","unit":{"item":"LAMP","serial":"1"}}}"""));
        Assert.Contains(correction.Faults, f => f.Pointer == "/replacement/factId" && f.Detail.StartsWith("A replacement has no factId", StringComparison.Ordinal));
    }
}
