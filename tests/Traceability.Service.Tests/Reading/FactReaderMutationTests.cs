using System.Text;
using System.Text.Json.Nodes;
using CsCheck;
using Traceability.Domain.Facts;
using Traceability.Service.Http.Reading;
using Traceability.Service.Storage;
using Xunit;

namespace Traceability.Service.Tests.Reading;

public sealed class FactReaderMutationTests
{
    private static readonly string[] Extremes =
    [
        "null", "true", "0", "-0", "-1", "1e28", "7.9e28", "1e-28", "1e-29", "1e999999999", "99999999999999999999999999999999", "\"\"", "\" \"", "\"NaN\"", "\"1\"",
        "\"\\u0000\"", "\"HALF-PAIR\"", "\"~/\"", "[]", "{}", "[[]]", "[null]", "[{}]", "{\"item\":null}", "\"9999-12-31T23:59:59.9999999Z\"",
        "\"0001-01-01T00:00:00+14:00\"", "\"2026-03-02T08:15:30+01:00\"", "\"P99999999999D\"", "\"PT0S\"", "\"FP-2\"", "\"BOND\"", "\"step-completed\"", "\"record-corrected\"",
    ];

    private static readonly Gen<string> Sample = Gen.Int[0, EventNames.All.Length - 1].Select(i => EventNames.All[i].Name);

    // Where to change (a walk down the tree), how, and with what.
    private static readonly Gen<(int[] Walk, int How, int What)[]> Changes =
        Gen.Select(Gen.Int[0, 1000].Array[1, 8], Gen.Int[0, 4], Gen.Int[0, Extremes.Length - 1]).Array[1, 3];

    [Fact]
    public void A_changed_fact_is_a_fact_or_a_list_of_faults_and_never_an_exception() =>
        Gen.Select(Sample, Changes).Sample(
            (storedName, changes) =>
            {
                var body = WireSamples.Of(storedName);
                foreach (var (walk, how, what) in changes)
                {
                    Change(body, walk, how, Extremes[what]);
                }

                var reading = FactReader.Read(WireSamples.Bytes(body));

                Assert.True(reading.Fact is null == !reading.Faults.IsEmpty);
                Assert.All(reading.Faults, f => Assert.True(f.Pointer.Length == 0 || f.Pointer[0] == '/', f.Pointer));
                if (reading.Fact is { Fact: var fact })
                {
                    // What was taken in must come back from the store as it is.
                    var stored = FactCodec.Serialize(fact);
                    var back = FactCodec.Deserialize(EventNames.Of(fact.GetType()), stored);
                    Assert.IsNotType<UnreadableFact>(back);
                    Assert.Equal(stored, FactCodec.Serialize(back));
                }
            },
            iter: 5_000);

    [Fact]
    public void A_changed_byte_is_a_fact_or_a_list_of_faults_and_never_an_exception() =>
        Gen.Select(Sample, Gen.Int[0, 100_000], Gen.Byte).Sample(
            (storedName, at, value) =>
            {
                var bytes = WireSamples.Bytes(WireSamples.Of(storedName));
                bytes[at % bytes.Length] = value;

                var reading = FactReader.Read(bytes);

                Assert.True(reading.Fact is null == !reading.Faults.IsEmpty);
            },
            iter: 5_000);

    [Fact]
    public void A_stored_row_that_was_changed_reads_as_a_fact_or_as_unreadable_and_never_throws() =>
        Gen.Select(Sample, Changes, Gen.Bool, Gen.Int[0, 100_000]).Sample(
            (storedName, changes, cut, at) =>
            {
                var body = WireSamples.Content(storedName);
                foreach (var (walk, how, what) in changes)
                {
                    Change(body, walk, how, Extremes[what]);
                }

                var json = WireSamples.Text(body);
                json = cut ? json[..(at % json.Length)] : json;
                var recordedAt = new DateTimeOffset(2026, 1, 1, 0, 0, 0, TimeSpan.Zero);

                var fact = FactCodec.Deserialize(storedName, json, recordedAt);

                // A fact that reads must also be one that can be written: no half-filled parts.
                Assert.True(fact is UnreadableFact { Reason.Length: > 0 } || FactCodec.Serialize(fact).Length > 0);
            },
            iter: 5_000);

    [Fact]
    public void An_unknown_name_is_unreadable_and_keeps_its_time()
    {
        var fact = Assert.IsType<UnreadableFact>(FactCodec.Deserialize("unit_painted", """{"occurredAt":"2026-03-02T08:15:30+01:00"}"""));

        Assert.Equal("unit_painted", fact.StoredName);
        Assert.Equal(new(2026, 3, 2, 8, 15, 30, TimeSpan.FromHours(1)), fact.OccurredAt);
    }

    private static void Change(JsonNode body, int[] walk, int how, string extreme)
    {
        var at = body;
        for (var i = 0; i < walk.Length - 1; i++)
        {
            var next = Children(at) is { Length: > 0 } children ? children[walk[i] % children.Length] : null;
            if (next is JsonObject { Count: > 0 } or JsonArray { Count: > 0 })
            {
                at = next;
            }
        }

        var last = walk[^1];
        switch (at)
        {
            case JsonObject { Count: > 0 } o:
                var name = o.Select(m => m.Key).ElementAt(last % o.Count);
                ChangeMember(o, name, how, extreme);
                break;
            case JsonArray { Count: > 0 } a when how == 0:
                a.RemoveAt(last % a.Count);
                break;
            case JsonArray { Count: > 0 } a when how == 1:
                a.Add(a[last % a.Count]?.DeepClone());
                break;
            case JsonArray { Count: > 0 } a:
                a[last % a.Count] = Parse(extreme);
                break;
        }
    }

    private static void ChangeMember(JsonObject o, string name, int how, string extreme)
    {
        var value = o[name];
        switch (how)
        {
            case 0:
                o.Remove(name);
                break;
            case 1:
                o.Remove(name);
                o[name + "s"] = value;
                break;
            case 2:
                o[name] = value is JsonArray or JsonObject ? JsonValue.Create(value.ToJsonString()) : new JsonArray(value?.DeepClone());
                break;
            default:
                o[name] = Parse(extreme);
                break;
        }
    }

    private static JsonNode?[] Children(JsonNode? node) => node switch
    {
        JsonObject o => [.. o.Select(m => m.Value)],
        JsonArray a => [.. a],
        _ => [],
    };

    private static JsonNode? Parse(string json) => JsonNode.Parse(Encoding.UTF8.GetBytes(json));
}
