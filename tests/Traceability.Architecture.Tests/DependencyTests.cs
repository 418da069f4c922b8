using System.Reflection;
using System.Text.RegularExpressions;
using NetArchTest.Rules;
using Traceability.Contracts;
using Traceability.Domain.Facts;
using Traceability.Service;
using Xunit;

namespace Traceability.Architecture.Tests;

/// <summary>Which part may know which: architecture of one monolith, held here.</summary>
public sealed class DependencyTests
{
    private const string FeatureRoot = "Traceability.Service.Features.";

    private static readonly Assembly Service = typeof(TraceabilityService).Assembly;

    private static readonly string[] Shared = ["Http", "Storage", "Ingest", "Security", "Telemetry"];

    [Theory]
    [InlineData("Traceability.Domain", "MathNet.Numerics CommunityToolkit.HighPerformance")]
    [InlineData("Traceability.Contracts", "")]
    [InlineData("Traceability.Simulator", "Traceability.Contracts")]
    [InlineData("Traceability.Postgres", "Npgsql")]
    [InlineData("Traceability.Client", "Traceability.Contracts Polly.Core Microsoft.Data.Sqlite")]
    [InlineData("Traceability.Terminal", "Traceability.Client Traceability.Contracts Spectre.Console Spectre.Console.Cli")]
    public void A_project_references_only_what_its_place_allows(string project, string allowed)
    {
        var file = Repository.Read($"src/{project}/{project}.csproj");
        var references = Regex.Matches(file, "<(?:Project|Package)Reference Include=\"(?<name>[^\"]+)\"", RegexOptions.None, TimeSpan.FromSeconds(1))
            .Select(m => Path.GetFileName(m.Groups["name"].Value.Replace(".csproj", string.Empty, StringComparison.Ordinal)));

        Assert.Empty(references.Except(allowed.Split(' '), StringComparer.Ordinal));
        Assert.DoesNotContain("FrameworkReference", file, StringComparison.Ordinal);
        Assert.Contains("Sdk=\"Microsoft.NET.Sdk\"", file, StringComparison.Ordinal);
    }

    [Fact]
    public void The_domain_knows_no_store_no_web_and_nothing_else_of_ours()
    {
        var known = typeof(Fact).Assembly.GetReferencedAssemblies().Select(a => a.Name!);

        Assert.DoesNotContain(known, n => n.StartsWith("Traceability", StringComparison.Ordinal) || n.StartsWith("Microsoft.AspNetCore", StringComparison.Ordinal)
            || n.StartsWith("Marten", StringComparison.Ordinal) || n.StartsWith("Npgsql", StringComparison.Ordinal));
    }

    [Fact]
    public void The_contracts_know_nothing_of_ours() =>
        Assert.DoesNotContain(typeof(ProblemCodes).Assembly.GetReferencedAssemblies(), a => a.Name!.StartsWith("Traceability", StringComparison.Ordinal));

    [Fact]
    public void A_feature_knows_no_other_feature()
    {
        var features = Service.GetTypes()
            .Select(t => t.Namespace)
            .Where(n => n?.StartsWith(FeatureRoot, StringComparison.Ordinal) == true)
            .Select(n => FeatureRoot + n![FeatureRoot.Length..].Split('.')[0])
            .Distinct(StringComparer.Ordinal)
            .ToArray();

        Assert.NotEmpty(features);
        Assert.All(features, feature => AssertHolds(Types.InAssembly(Service)
            .That().ResideInNamespace(feature)
            .ShouldNot().HaveDependencyOnAny([.. features.Where(f => f != feature)])
            .GetResult()));
    }

    [Fact]
    public void Shared_folders_know_no_feature() => Assert.All(Shared, folder => AssertHolds(Types.InAssembly(Service)
        .That().ResideInNamespace($"Traceability.Service.{folder}")
        .ShouldNot().HaveDependencyOn("Traceability.Service.Features")
        .GetResult()));

    [Fact]
    public void Only_storage_and_ingest_use_the_event_store() => AssertHolds(Types.InAssembly(Service)
        .That().DoNotResideInNamespace("Traceability.Service.Storage")
        .And().DoNotResideInNamespace("Traceability.Service.Ingest")
        .And().DoNotHaveName(nameof(TraceabilityService))
        .ShouldNot().HaveDependencyOn("Marten")
        .GetResult());

    [Fact]
    public void Only_storage_and_ingest_write_into_the_event_tables()
    {
        var writing = new Regex(@"(insert\s+into|update|delete\s+from|copy)\s+events\.", RegexOptions.IgnoreCase | RegexOptions.ExplicitCapture, TimeSpan.FromSeconds(1));
        var writers = Repository.Sources("src").Where(f => writing.IsMatch(Repository.Read(f))).ToArray();

        Assert.NotEmpty(writers);
        Assert.All(writers, f => Assert.Matches("^src/Traceability.Service/(Storage|Ingest)/", f));
    }

    private static void AssertHolds(TestResult result) =>
        Assert.True(result.IsSuccessful, string.Join(", ", result.FailingTypeNames ?? []));

    [Fact]
    public void Nothing_but_the_simulator_knows_what_the_demo_builds()
    {
        string[] words = ["pump", "FP-2", "Alder Reach"];
        Assert.DoesNotContain(
            Repository.Sources("src").Where(f => !f.StartsWith("src/Traceability.Simulator/", StringComparison.Ordinal)),
            f => words.Any(w => Repository.Read(f).Contains(w, StringComparison.OrdinalIgnoreCase)));
    }
}
