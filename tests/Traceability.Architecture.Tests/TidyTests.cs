using Microsoft.CodeAnalysis.CSharp.Syntax;
using Xunit;

namespace Traceability.Architecture.Tests;

/// <summary>Rules that keep the repository easy to read.</summary>
public sealed class TidyTests
{
    private const int FileLinesMax = 400;

    private const int MethodLinesMax = 60;

    /// <summary>Longer files, each with the reason.</summary>
    private static readonly Dictionary<string, string> LongFiles = new(StringComparer.Ordinal);

    /// <summary>Longer methods, each with the reason.</summary>
    private static readonly Dictionary<string, string> LongMethods = new(StringComparer.Ordinal);

    [Fact]
    public void The_top_level_holds_what_it_should_and_nothing_else()
    {
        string[] expected = ["DEVELOPERS.md", "LICENSE", "README.md", "Traceability.sln", "contracts", "deploy", "docs", "src", "tests"];

        // Made by running the service from here, and never committed.
        string[] passing = ["data", "TestResults"];
        var there = Directory.EnumerateFileSystemEntries(Repository.Root)
            .Select(e => Path.GetFileName(e))
            .Where(n => n[0] != '.' && !n.StartsWith("Directory.", StringComparison.Ordinal) && n != "global.json" && !passing.Contains(n, StringComparer.Ordinal));

        Assert.Equal(string.Join(' ', expected), string.Join(' ', there.Order(StringComparer.Ordinal)));
    }

    [Fact]
    public void No_file_is_longer_than_it_can_be_read_at_once()
    {
        var wrong = Repository.Sources("src", "tests")
            .Select(f => (File: f, Lines: Repository.Read(f).AsSpan().Count('\n')))
            .Where(f => f.Lines > FileLinesMax != LongFiles.ContainsKey(f.File))
            .Select(f => $"{f.File}: {f.Lines} lines{(f.Lines > FileLinesMax ? string.Empty : ", so it needs no exception")}");

        Assert.Equal(string.Empty, string.Join('\n', wrong));
    }

    [Fact]
    public void No_method_is_longer_than_a_screen()
    {
        var wrong = Repository.Sources("src")
            .SelectMany(f => Repository.Parse(f).DescendantNodes().OfType<BaseMethodDeclarationSyntax>().Select(m => (Name: $"{f} {NameOf(m)}", Lines: LinesOf(m))))
            .Where(m => m.Lines > MethodLinesMax && !LongMethods.ContainsKey(m.Name))
            .Select(m => $"{m.Name}: {m.Lines} lines");

        Assert.Equal(string.Empty, string.Join('\n', wrong));
    }

    [Fact]
    public void Nothing_is_left_to_do_in_a_comment()
    {
        string[] marks = ["TO" + "DO", "FIX" + "ME", "HA" + "CK", "XX" + "X"];
        var wrong = Repository.Sources("src", "tests")
            .Where(f => Repository.Parse(f).DescendantTrivia().Any(t => marks.Any(m => t.ToFullString().Contains(m, StringComparison.Ordinal))));

        Assert.Equal(string.Empty, string.Join('\n', wrong));
    }

    [Fact]
    public void The_clock_and_random_ids_stay_banned()
    {
        var banned = Repository.Read(".config/BannedSymbols.txt");
        string[] symbols = ["P:System.DateTime.Now", "P:System.DateTime.UtcNow", "P:System.DateTimeOffset.Now", "P:System.DateTimeOffset.UtcNow", "M:System.Guid.NewGuid"];

        Assert.All(symbols, s => Assert.Contains(s + ";", banned, StringComparison.Ordinal));
        Assert.Contains("BannedSymbols.txt", Repository.Read("Directory.Build.props"), StringComparison.Ordinal);
        Assert.Contains("<TreatWarningsAsErrors>true</TreatWarningsAsErrors>", Repository.Read("Directory.Build.props"), StringComparison.Ordinal);
        var everything = Directory.EnumerateFiles(Path.Combine(Repository.Root, "src"), "*.csproj", SearchOption.AllDirectories)
            .Select(p => Path.GetRelativePath(Repository.Root, p))
            .Concat(Repository.Sources("src"))
            .Append("Directory.Build.props")
            .Append(".editorconfig");
        Assert.All(everything, f => Assert.DoesNotContain("RS0030", Repository.Read(f), StringComparison.Ordinal));
    }

    private static int LinesOf(BaseMethodDeclarationSyntax method)
    {
        // Without its documentation.
        var span = method.SyntaxTree.GetLineSpan(method.Span);
        return span.EndLinePosition.Line - span.StartLinePosition.Line + 1;
    }

    private static string NameOf(BaseMethodDeclarationSyntax method) => method switch
    {
        MethodDeclarationSyntax named => named.Identifier.Text,
        ConstructorDeclarationSyntax constructor => constructor.Identifier.Text,
        _ => method.Kind().ToString(),
    };
}
