using System.Text.Json;
using System.Text.Json.Nodes;
using NJsonSchema;
using Traceability.Domain.Facts;
using Traceability.Service.Storage;
using Xunit;

namespace Traceability.Service.Tests.ContractTests;

public sealed class EventContractTests
{
    private static readonly JsonSerializerOptions Indented = new(EventJson.Options) { WriteIndented = true };

    public static TheoryData<string> StoredNames => [.. EventNames.All.Select(e => e.Name)];

    public static TheoryData<string> SampleFiles =>
        [.. Directory.GetFiles(Path.Combine(Repository.Contracts, "events"), "*.sample.json").Select(f => Path.GetFileName(f)).Order(StringComparer.Ordinal)];

    [Fact]
    public void Every_type_of_fact_has_one_pinned_name()
    {
        var types = typeof(Fact).Assembly.GetTypes().Where(t => t.IsSubclassOf(typeof(Fact)) && t != typeof(UnreadableFact)).ToHashSet();

        Assert.True(types.SetEquals(EventNames.All.Select(e => e.Type)));
        Assert.All(types, t => Assert.True(t.IsSealed, $"{t.Name} is not sealed."));
        Assert.Equal(types.Count, EventNames.All.Select(e => e.Name).Distinct(StringComparer.Ordinal).Count());
        Assert.All(EventNames.All, e => Assert.Equal(JsonNamingPolicy.SnakeCaseLower.ConvertName(e.Type.Name), e.Name));
    }

    [Fact]
    public void Every_type_of_fact_has_a_sample_in_code() =>
        Assert.Equal(EventNames.All.Select(e => e.Type), SampleFacts.All.Select(f => f.GetType()));

    [Theory]
    [MemberData(nameof(StoredNames))]
    public void Every_event_has_a_sample_and_a_schema_in_contracts(string storedName)
    {
        Assert.True(File.Exists(SampleOf(storedName)), $"contracts/events/{storedName}.v1.sample.json is missing.");
        Assert.True(File.Exists(Path.Combine(Repository.Contracts, "events", $"{storedName}.v1.schema.json")));
    }

    [Theory]
    [MemberData(nameof(StoredNames))]
    public void A_fact_is_stored_as_its_sample_says(string storedName)
    {
        var fact = SampleFacts.All.Single(f => EventNames.Of(f.GetType()) == storedName);
        var text = JsonNode.Parse(FactCodec.Serialize(fact))!.ToJsonString(Indented) + "\n";
        if (Environment.GetEnvironmentVariable("TRACEABILITY_WRITE_CONTRACTS") == "1" && !File.Exists(SampleOf(storedName)))
        {
            // Only a sample that is not there yet is written: the ones that are there stand for events already stored.
            File.WriteAllText(SampleOf(storedName), text);
        }

        Assert.Equal(text, File.ReadAllText(SampleOf(storedName)));
    }

    [Theory]
    [MemberData(nameof(SampleFiles))]
    public void A_stored_sample_of_every_version_loads_and_nothing_of_it_is_lost(string file)
    {
        var json = File.ReadAllText(Path.Combine(Repository.Contracts, "events", file));

        var fact = FactCodec.Deserialize(file[..file.IndexOf('.', StringComparison.Ordinal)], json);

        Assert.False(fact is UnreadableFact, (fact as UnreadableFact)?.Reason);
        Assert.Equal(Sorted(JsonNode.Parse(json)), Sorted(JsonNode.Parse(FactCodec.Serialize(fact))));
    }

    [Theory]
    [MemberData(nameof(SampleFiles))]
    public async Task A_sample_is_valid_against_its_schema_and_a_broken_one_is_not(string file)
    {
        var folder = Path.Combine(Repository.Contracts, "events");
        var schema = await JsonSchema.FromFileAsync(Path.Combine(folder, file.Replace("sample", "schema", StringComparison.Ordinal)));
        var sample = await File.ReadAllTextAsync(Path.Combine(folder, file));

        Assert.Empty(schema.Validate(sample));

        var broken = JsonNode.Parse(sample)!.AsObject();
        broken["occurredAt"] = 5;
        Assert.NotEmpty(schema.Validate(broken.ToJsonString()));
        broken.Remove("occurredAt");
        Assert.NotEmpty(schema.Validate(broken.ToJsonString()));
    }

    [Fact]
    public void The_schemas_in_contracts_are_those_of_the_code()
    {
        foreach (var (path, text) in ContractFiles.All())
        {
            var file = Path.Combine(Repository.Contracts, path);
            if (Environment.GetEnvironmentVariable("TRACEABILITY_WRITE_CONTRACTS") == "1")
            {
                Directory.CreateDirectory(Path.GetDirectoryName(file)!);
                File.WriteAllText(file, text);
            }

            Assert.True(File.Exists(file), $"contracts/{path} is missing. Write it with TRACEABILITY_WRITE_CONTRACTS=1.");
            Assert.Equal(text, File.ReadAllText(file));
        }
    }

    private static string SampleOf(string storedName) => Path.Combine(Repository.Contracts, "events", $"{storedName}.v1.sample.json");

    // The order of members means nothing; everything else, digits included, must come back as it was.
    private static string Sorted(JsonNode? node) => node switch
    {
        JsonObject o => "{" + string.Join(",", o.OrderBy(p => p.Key, StringComparer.Ordinal).Select(p => $"\"{p.Key}\":{Sorted(p.Value)}")) + "}",
        JsonArray a => "[" + string.Join(",", a.Select(Sorted)) + "]",
        _ => node?.ToJsonString() ?? "null",
    };
}
