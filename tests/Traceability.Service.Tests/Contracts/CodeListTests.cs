using System.Reflection;
using System.Text.Json;
using System.Text.RegularExpressions;
using Traceability.Contracts;
using Traceability.Domain.Judging;
using Xunit;

namespace Traceability.Service.Tests.ContractTests;

public sealed partial class CodeListTests
{
    [Fact]
    public void Every_problem_code_of_the_code_is_listed_and_every_listed_one_is_used()
    {
        var used = Sources().SelectMany(text => Uses().Matches(text)).Select(m => m.Groups["code"].Value).ToHashSet(StringComparer.Ordinal);
        Assert.True(used.Count > 40, "The pattern no longer finds the codes.");

        Assert.Equal(Sorted(used), Listed("problems.json", "code"));
        Assert.Equal(Sorted(Constants(typeof(ProblemCodes))), Listed("problems.json", "code"));
    }

    [Fact]
    public void Every_kind_of_finding_is_listed() => Assert.Equal(Sorted(Constants(typeof(FindingKinds))), Listed("findings.json", "kind"));

    [Theory]
    [InlineData("problems.json")]
    [InlineData("findings.json")]
    public void Everything_listed_says_what_it_means(string file) =>
        Assert.All(Entries(file), e => Assert.All(e.EnumerateObject(), m => Assert.False(string.IsNullOrWhiteSpace(m.Value.GetString()))));

    // Where a refusal or a kind of problem is made: the code is the first text there.
    [GeneratedRegex("""(?:Refusal\.(?:At|Of)\(\s*|(?<![A-Za-z])(?:Unknown|Known)\([^"\n]*|const string Code = )"(?<code>[a-z]+(?:-[a-z]+)+)"|new\(\s*"(?<code>[a-z]+(?:-[a-z]+)*)",\s*(?:RefusalKind|StatusCodes)\.""", RegexOptions.None, 1000)]
    private static partial Regex Uses();

    private static IEnumerable<string> Sources() =>
        new[] { "Traceability.Domain", "Traceability.Service" }
            .SelectMany(p => Directory.EnumerateFiles(Path.Combine(Repository.Root, "src", p), "*.cs", SearchOption.AllDirectories))
            .Where(f => !f.Contains($"{Path.DirectorySeparatorChar}obj{Path.DirectorySeparatorChar}", StringComparison.Ordinal))
            .Select(File.ReadAllText);

    private static IEnumerable<string> Constants(Type type) =>
        type.GetFields(BindingFlags.Public | BindingFlags.Static).Where(f => f.IsLiteral).Select(f => (string)f.GetRawConstantValue()!);

    private static JsonElement[] Entries(string file) =>
        JsonSerializer.Deserialize<JsonElement[]>(File.ReadAllText(Path.Combine(Repository.Contracts, file)))!;

    private static string Listed(string file, string member) => Sorted(Entries(file).Select(e => e.GetProperty(member).GetString()!));

    private static string Sorted(IEnumerable<string> codes) => string.Join('\n', codes.Order(StringComparer.Ordinal));
}
