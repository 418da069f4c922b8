using System.Text;
using System.Text.Json;
using System.Text.Json.Nodes;
using Traceability.Contracts;
using Traceability.Contracts.Facts;
using Traceability.Domain.Facts;
using Traceability.Service.Http.Reading;
using Traceability.Service.Storage;
using Xunit;

namespace Traceability.Service.Tests.Reading;

/// <summary>Tables of times to cure, minima by temperature, and readings, as they are sent.</summary>
public sealed class CureReaderTests
{
    private const string Rows =
        """[{"temperature":{"value":15,"unit":"Cel"},"handling":"PT10M","full":"PT1H"},{"temperature":{"value":77.0,"unit":"[degF]"},"handling":"PT3M20S","full":"PT20M"}]""";

    private const string Condition = """{"requirement":"GLUE","state":"full","fallback":"PT24H","readingGapMax":"PT30M","place":"OVEN-1"}""";

    [Fact]
    public void A_table_and_a_condition_are_stored_as_they_are_sent_and_read_by_a_client()
    {
        foreach (var body in new[] { Item(Rows), Draft(Condition) })
        {
            var reading = FactReader.Read(Encoding.UTF8.GetBytes(body));
            Assert.Empty(reading.Faults);
            var stored = FactCodec.Serialize(reading.Fact!.Fact);
            Assert.Equal(stored, FactCodec.Serialize(FactCodec.Deserialize(EventNames.Of(reading.Fact.Fact.GetType()), stored)));

            var message = JsonSerializer.SerializeToUtf8Bytes(JsonSerializer.Deserialize<FactMessage>(body, WireJson.Options), WireJson.Options);
            Assert.Equal(stored, FactCodec.Serialize(FactReader.Read(message).Fact!.Fact));
        }

        Assert.Contains("\"value\":77.0", FactCodec.Serialize(Read(Item(Rows))), StringComparison.Ordinal);
        Assert.Contains("\"readingGapMax\":\"PT30M\"", FactCodec.Serialize(Read(Draft(Condition))), StringComparison.Ordinal);
    }

    [Fact]
    public void An_item_and_a_rule_that_were_stored_before_read_as_before()
    {
        var item = (Domain.Items.ItemDefined)FactCodec.Deserialize("item_defined", """{"item":"ADH-1","kind":"consumable","description":"Adhesive","occurredAt":"2026-03-02T08:15:30+01:00"}""");
        Assert.Null(item.Cure);
        var rule = ((Domain.Routings.RoutingDrafted)Read(Draft("null", "\"minimum\":\"PT5M\","))).Revision.Intervals[0];
        Assert.Null(rule.Temperature);
        Assert.DoesNotContain("temperature", FactCodec.Serialize(Read(Draft("null", "\"minimum\":\"PT5M\","))), StringComparison.Ordinal);
    }

    [Theory]
    [InlineData("[]", "/cure/rows")]
    [InlineData("""[{"temperature":{"value":15,"unit":"Cel"}}]""", "/cure/rows/0")]
    [InlineData("""[{"temperature":{"value":15,"unit":"N.m"},"full":"PT1H"}]""", "/cure/rows/0/temperature/value")]
    [InlineData("""[{"temperature":{"value":-273.15,"unit":"Cel"},"full":"PT1H"}]""", "/cure/rows/0/temperature/value")]
    [InlineData("""[{"temperature":{"value":15,"unit":"Cel"},"full":"PT0S"}]""", "/cure/rows/0/full")]
    [InlineData("""[{"temperature":{"value":15,"unit":"Cel"},"handling":"PT2H","full":"PT1H"}]""", "/cure/rows/0/handling")]
    [InlineData("""[{"temperature":{"value":25,"unit":"Cel"},"full":"PT1H"},{"temperature":{"value":77,"unit":"[degF]"},"full":"PT1H"}]""", "/cure/rows/1")]
    [InlineData("""[{"temperature":{"value":25,"unit":"Cel"},"full":"PT1H"},{"temperature":{"value":35,"unit":"Cel"},"full":"PT61M"}]""", "/cure/rows/1")]
    [InlineData("""[{"temperature":{"value":35,"unit":"Cel"},"full":"PT61M"},{"temperature":{"value":25,"unit":"Cel"},"full":"PT1H"}]""", "/cure/rows/1")]
    public void A_table_that_contradicts_itself_is_told_with_its_place(string rows, string pointer) => ShouldFail(Item(rows), pointer);

    [Fact]
    public void Only_a_consumable_cures() => ShouldFail(Item(Rows).Replace("consumable", "product", StringComparison.Ordinal), "/cure");

    [Theory]
    [InlineData("requirement", "\"TAPE\"", "/revision/intervals/0/temperature/requirement")]
    [InlineData("state", "\"dry\"", "/revision/intervals/0/temperature/state")]
    [InlineData("fallback", "null", "/revision/intervals/0/temperature/fallback")]
    [InlineData("fallback", "\"P3D\"", "/revision/intervals/0/maximum")]
    [InlineData("readingGapMax", "\"PT0S\"", "/revision/intervals/0/temperature/readingGapMax")]
    [InlineData("readingGapMax", "\"P1DT1S\"", "/revision/intervals/0/temperature/readingGapMax")]
    [InlineData("place", "\"OVEN 1\"", "/revision/intervals/0/temperature/place")]
    public void A_condition_that_is_wrong_is_told_with_its_place(string member, string value, string pointer)
    {
        var condition = JsonNode.Parse(Condition)!.AsObject();
        condition[member] = JsonNode.Parse(value);
        ShouldFail(Draft(condition.ToJsonString()), pointer);
    }

    [Fact]
    public void A_fixed_minimum_beside_it_and_a_cure_that_starts_at_an_opening_are_told()
    {
        ShouldFail(Draft(Condition, "\"minimum\":\"PT5M\","), "/revision/intervals/0/minimum");
        ShouldFail(Draft(Condition).Replace("\"kind\":\"completed\"},\"to\"", "\"kind\":\"container-opened\",\"name\":\"GLUE\"},\"to\"", StringComparison.Ordinal), "/revision/intervals/0/temperature");
    }

    [Theory]
    [InlineData("[]", "/readings")]
    [InlineData("""[{"at":"2026-03-02T08:00:00Z","temperature":{"value":21,"unit":"N.m"}}]""", "/readings/0/temperature/value")]
    [InlineData("""[{"at":"2026-03-02T08:00:00Z","temperature":{"value":-1,"unit":"K"}}]""", "/readings/0/temperature/value")]
    [InlineData("""[{"at":"2026-03-02T08:00:00Z","temperature":{"value":21,"unit":"Cel"}},{"at":"2026-03-01T23:59:59Z","temperature":{"value":21,"unit":"Cel"}}]""", "/readings/1/at")]
    [InlineData("""[{"at":"2026-03-02T09:00:01Z","temperature":{"value":21,"unit":"Cel"}}]""", "/readings/0/at")]
    [InlineData("""[{"at":"2026-03-02","temperature":{"value":21,"unit":"Cel"}}]""", "/readings/0/at")]
    public void Readings_that_are_wrong_are_told_with_their_places(string readings, string pointer) => ShouldFail(
        $$"""{"factId":"01890a5d-ac96-774b-bcce-b302099a8058","type":"temperature-recorded","occurredAt":"2026-03-02T09:00:00Z","place":"ST-1","readings":{{readings}}}""", pointer);

    private static void ShouldFail(string body, string pointer)
    {
        var reading = FactReader.Read(Encoding.UTF8.GetBytes(body));
        Assert.Equal(pointer, Assert.Single(reading.Faults).Pointer);
        Assert.Null(reading.Fact);
    }

    private static Fact Read(string body) => FactReader.Read(Encoding.UTF8.GetBytes(body)).Fact!.Fact;

    private static string Item(string rows) =>
        $$$"""{"factId":"01890a5d-ac96-774b-bcce-b302099a8058","type":"item-defined","occurredAt":"2026-03-02T09:00:00Z","item":"ADH-1","kind":"consumable","description":"Adhesive","cure":{"rows":{{{rows}}}}}""";

    private static string Draft(string condition, string more = "") =>
        $$$"""
        {"factId":"01890a5d-ac96-774b-bcce-b302099a8058","type":"routing-drafted","occurredAt":"2026-03-02T09:00:00Z","revision":{"item":"LAMP","revision":"A","description":"First","steps":[
          {"code":"BOND","name":"Bond","materials":[{"code":"GLUE","item":"ADH-1"}]},{"code":"LOAD","name":"Load"}],"intervals":[
          {"code":"CURE","name":"Cure","from":{"step":"BOND","kind":"completed"},"to":{"step":"LOAD","kind":"started"},{{{more}}}"maximum":"P2D","temperature":{{{condition}}}}]}}
        """;
}
