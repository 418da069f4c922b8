using System.Text;
using System.Text.Json.Nodes;
using Traceability.Service.Storage;
using Traceability.Service.Tests.ContractTests;

namespace Traceability.Service.Tests.Reading;

/// <summary>The stored samples as a terminal would send them.</summary>
internal static class WireSamples
{
    /// <summary>The id that every sample has.</summary>
    public static readonly Guid Id = new("01890a5d-ac96-774b-bcce-b302099a8058");

    /// <summary>The sample of a type, such as step_completed, with its id and type and without what the service adds.</summary>
    public static JsonObject Of(string storedName)
    {
        var body = new JsonObject { ["factId"] = Id.ToString(), ["type"] = storedName.Replace('_', '-') };
        foreach (var (name, value) in Content(storedName))
        {
            body[name] = value?.DeepClone();
        }

        return body;
    }

    /// <summary>What is stored of the sample before the service adds its own.</summary>
    public static JsonObject Content(string storedName)
    {
        var fact = SampleFacts.All.Single(f => string.Equals(EventNames.Of(f.GetType()), storedName, StringComparison.Ordinal));
        var content = JsonNode.Parse(FactCodec.Serialize(fact))!.AsObject();
        content.Remove("clock");
        content.Remove("sentBy");
        return content;
    }

    /// <summary>Stands for half a surrogate pair, which only text can hold.</summary>
    public const string HalfPair = "HALF-PAIR";

    /// <summary>The text of a body.</summary>
    public static string Text(JsonNode body) => body.ToJsonString().Replace(HalfPair, "\\ud83d", StringComparison.Ordinal);

    /// <summary>The bytes of a body.</summary>
    public static byte[] Bytes(JsonNode body) => Encoding.UTF8.GetBytes(Text(body));

    /// <summary>JSON with its members in order, every digit kept.</summary>
    public static string Sorted(JsonNode? node) => node switch
    {
        JsonObject o => "{" + string.Join(",", o.OrderBy(p => p.Key, StringComparer.Ordinal).Select(p => $"\"{p.Key}\":{Sorted(p.Value)}")) + "}",
        JsonArray a => "[" + string.Join(",", a.Select(Sorted)) + "]",
        _ => node?.ToJsonString() ?? "null",
    };
}
