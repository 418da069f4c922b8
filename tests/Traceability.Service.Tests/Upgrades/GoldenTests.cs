using System.Security.Cryptography;
using System.Text;
using System.Text.Json;
using System.Text.Json.Nodes;
using Traceability.Domain.Facts;
using Traceability.Domain.Judging;
using Traceability.Domain.ProductUnits;
using Traceability.Service.Storage;
using Traceability.Service.Tests.ContractTests;
using Traceability.Testing.Building;
using Xunit;

namespace Traceability.Service.Tests.Upgrades;

/// <summary>
/// Samples of every form of event that was ever stored, and a history with its judgement, as they were when they were made. With
/// TRACEABILITY_WRITE_CONTRACTS=1 what is not there yet is written; what is there is never written anew.
/// </summary>
public sealed class GoldenTests
{
    private static readonly string Events = Path.Combine(Repository.Contracts, "events");
    private static readonly string Sums = Path.Combine(Events, "samples.sha256");
    private static readonly string Golden = Path.Combine(Repository.Root, "tests", "Traceability.Service.Tests", "Golden");

    // What a part of a judgement tells today and didn't then.
    private static readonly string[] Later = ["Earliest", "Latest", "Uncertainty"];

    private static bool IsWriting => Environment.GetEnvironmentVariable("TRACEABILITY_WRITE_CONTRACTS") == "1";

    [Fact]
    public void No_sample_of_a_stored_event_was_ever_changed_or_taken_away()
    {
        var there = Directory.GetFiles(Events, "*.sample.json").ToDictionary(f => Path.GetFileName(f), f => Sum(File.ReadAllText(f)), StringComparer.Ordinal);
        var listed = File.Exists(Sums)
            ? File.ReadAllLines(Sums).Select(l => l.Split("  ")).ToDictionary(l => l[1], l => l[0], StringComparer.Ordinal)
            : new(StringComparer.Ordinal);
        if (IsWriting)
        {
            foreach (var (file, sum) in there)
            {
                listed.TryAdd(file, sum);
            }

            File.WriteAllText(Sums, string.Concat(listed.OrderBy(l => l.Key, StringComparer.Ordinal).Select(l => $"{l.Value}  {l.Key}\n")));
        }

        Assert.NotEmpty(listed);
        Assert.Equal(listed.OrderBy(l => l.Key, StringComparer.Ordinal), there.OrderBy(l => l.Key, StringComparer.Ordinal));
        Assert.All(EventNames.All, e => Assert.Contains(listed.Keys, f => f.StartsWith($"{e.Name}.", StringComparison.Ordinal)));
    }

    [Fact]
    public void A_history_as_it_was_stored_once_is_judged_as_it_was_judged_then()
    {
        var history = Path.Combine(Golden, "history.v1.ndjson");
        if (IsWriting && !File.Exists(history))
        {
            Directory.CreateDirectory(Golden);
            File.WriteAllLines(history, Story().SelectMany(s => s.Facts.Select(f => Line(s.Stream, f))));
        }

        var streams = Read(history);
        Assert.DoesNotContain(streams.Values.SelectMany(f => f), f => f.Fact is UnreadableFact);
        var references = streams.Aggregate(References.None, (r, s) => r.With(s.Key, References.Fold(s.Key, s.Value)));
        var judged = JsonNode.Parse(Canonical.Text(Judge.Unit(ProductUnit.Of(Some.Unit("LAMP", "1"), streams["unit/LAMP/1"]), references)))!.AsObject();
        var expected = Path.Combine(Golden, "judgement.v1.json");
        if (File.Exists(expected))
        {
            // What is judged today and was not then is nothing to compare; what was judged then must be judged the same.
            var then = JsonNode.Parse(File.ReadAllText(expected))!.AsObject();
            foreach (var member in judged.Select(m => m.Key).Where(k => !then.ContainsKey(k)).ToArray())
            {
                judged.Remove(member);
            }
        }

        var judgement = judged.ToJsonString(new(EventJson.Options) { WriteIndented = true }) + "\n";
        if (IsWriting && !File.Exists(expected))
        {
            File.WriteAllText(expected, judgement);
        }

        Assert.Equal(Said(JsonNode.Parse(File.ReadAllText(expected))), Said(JsonNode.Parse(judgement)));
    }

    // A member that came later is there now, and says nothing of what was stored before it: it is null or empty.
    private static string Said(JsonNode? node) => node switch
    {
        JsonObject o => "{\n" + string.Concat(o.Where(m => m.Value is not (null or JsonArray { Count: 0 }) && !Later.Contains(m.Key)).Select(m => $"{m.Key}: {Said(m.Value)}\n")) + "}",
        JsonArray a => "[\n" + string.Concat(a.Select(e => $"{Said(e)}\n")) + "]",
        _ => node?.ToJsonString() ?? "null",
    };

    private static string Sum(string text) => Convert.ToHexStringLower(SHA256.HashData(Encoding.UTF8.GetBytes(text)));

    private static string Line(string stream, RecordedFact fact) => new JsonObject
    {
        ["stream"] = stream,
        ["id"] = fact.Id,
        ["name"] = EventNames.Of(fact.Fact.GetType()),
        ["recordedAt"] = fact.RecordedAt,
        ["data"] = JsonNode.Parse(FactCodec.Serialize(fact.Fact)),
    }.ToJsonString(EventJson.Options);

    private static Dictionary<string, System.Collections.Immutable.ImmutableArray<RecordedFact>> Read(string file) => File.ReadAllLines(file)
        .Select(l => JsonSerializer.Deserialize<JsonElement>(l))
        .GroupBy(l => l.GetProperty("stream").GetString()!, StringComparer.Ordinal)
        .ToDictionary(
            s => s.Key,
            s => System.Collections.Immutable.ImmutableArray.CreateRange(s.Select(l => new RecordedFact(
                l.GetProperty("id").GetGuid(),
                FactCodec.Deserialize(l.GetProperty("name").GetString()!, l.GetProperty("data").GetRawText(), l.GetProperty("recordedAt").GetDateTimeOffset()),
                l.GetProperty("recordedAt").GetDateTimeOffset()))),
            StringComparer.Ordinal);

    // One lamp with something of everything: a repeat, a correction, a void, a component, findings, gaps, an open interval.
    private static IEnumerable<(string Stream, IEnumerable<RecordedFact> Facts)> Story()
    {
        var lamp = new UnitStory(Some.Unit("LAMP", "1"))
            .Open("P", at: -60)
            .Done("WIRE", 1, s => s.Measured("DEPTH", 11m, "mm").Checked("OK"))
            .Done("WIRE", 3, s => s.Rework().Measured("DEPTH", 5m, "mm").Checked("OK"))
            .Done("GLUE", 5, s => s.Used("ADH-1", "L1", "T1"))
            .Done("BOND", 7);
        lamp.Correct(lamp.LastId, new StepRecord(lamp.Unit, "BOND", Some.At(7)).Used("ADH-1", "OLD").Fact);
        lamp.Done("SCREW", 9, s => s.Tool("SD-1", "2"));
        lamp.Void(lamp.LastId);
        lamp.Done("MARRY", 12, s => s.Fitted("HEAD", Some.Unit("HEAD", "H1")));
        return [.. Histories.Streams.Select(s => (s.Key, (IEnumerable<RecordedFact>)s.Value)), ("unit/LAMP/1", lamp.Facts)];
    }
}
