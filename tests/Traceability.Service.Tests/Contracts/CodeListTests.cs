using System.Reflection;
using System.Text.Json;
using Traceability.Domain.Judging;
using Xunit;

namespace Traceability.Service.Tests.ContractTests;

public sealed class CodeListTests
{
    [Fact]
    public void Every_kind_of_finding_is_listed() => Assert.Equal(Sorted(Constants(typeof(FindingKinds))), Listed("findings.json", "kind"));

    [Fact]
    public void Every_kind_of_finding_says_what_it_means() =>
        Assert.All(Entries("findings.json"), e => Assert.All(e.EnumerateObject(), m => Assert.False(string.IsNullOrWhiteSpace(m.Value.GetString()))));

    private static IEnumerable<string> Constants(Type type) =>
        type.GetFields(BindingFlags.Public | BindingFlags.Static).Where(f => f.IsLiteral).Select(f => (string)f.GetRawConstantValue()!);

    private static JsonElement[] Entries(string file) =>
        JsonSerializer.Deserialize<JsonElement[]>(File.ReadAllText(Path.Combine(Repository.Contracts, file)))!;

    private static string Listed(string file, string member) => Sorted(Entries(file).Select(e => e.GetProperty(member).GetString()!));

    private static string Sorted(IEnumerable<string> codes) => string.Join('\n', codes.Order(StringComparer.Ordinal));
}
