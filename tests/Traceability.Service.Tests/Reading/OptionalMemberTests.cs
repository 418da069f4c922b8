using System.Text.Json;
using System.Text.Json.Nodes;
using Traceability.Contracts;
using Traceability.Contracts.Facts;
using Traceability.Service.Http.Reading;
using Traceability.Service.Storage;
using Xunit;

namespace Traceability.Service.Tests.Reading;

/// <summary>Members that types of fact got later: with them, nothing is lost on the way in; without them, all is as before.</summary>
public sealed class OptionalMemberTests
{
    [Theory]
    [InlineData("step_started", "/supervisor", "\"P-9\"")]
    [InlineData("step_completed", "/supervisor", "\"P-9\"")]
    [InlineData("step_completed", "/measurements/0/standardUncertainty", "0.0120")]
    [InlineData("unit_moved_to_revision", "/decidedAtVersion", "7")]
    [InlineData("item_defined", "/approvalsNeeded", "2")]
    [InlineData("routing_drafted", "/revision/steps/1/allowsSupervised", "true")]
    [InlineData("routing_drafted", "/revision/steps/1/allowsSupervised", "false")]
    public void What_is_sent_is_stored_loads_again_and_is_left_out_where_it_was_left_out(string storedName, string pointer, string value)
    {
        var body = Set(WireSamples.Of(storedName), pointer, value);
        var message = JsonSerializer.Deserialize<FactMessage>(body, WireJson.Options);
        var reading = FactReader.Read(JsonSerializer.SerializeToUtf8Bytes(message, WireJson.Options));

        Assert.Empty(reading.Faults);
        var stored = FactCodec.Serialize(reading.Fact!.Fact);
        Assert.Equal(WireSamples.Sorted(Set(WireSamples.Content(storedName), pointer, value)), WireSamples.Sorted(JsonNode.Parse(stored)));
        Assert.Equal(stored, FactCodec.Serialize(FactCodec.Deserialize(storedName, stored)));

        var name = pointer[(pointer.LastIndexOf('/') + 1)..];
        var before = FactCodec.Serialize(FactReader.Read(WireSamples.Bytes(WireSamples.Of(storedName))).Fact!.Fact);
        Assert.DoesNotContain($"\"{name}\"", before, StringComparison.Ordinal);
    }

    private static JsonObject Set(JsonObject body, string pointer, string value)
    {
        var names = pointer.Split('/')[1..];
        JsonNode at = body;
        foreach (var name in names[..^1])
        {
            at = at is JsonArray list ? list[int.Parse(name, System.Globalization.CultureInfo.InvariantCulture)]! : at[name]!;
        }

        at[names[^1]] = JsonNode.Parse(value);
        return body;
    }
}
