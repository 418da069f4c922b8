using Microsoft.CodeAnalysis.CSharp;

namespace Traceability.Architecture.Tests;

/// <summary>The files of the repository that these tests are part of.</summary>
internal static class Repository
{
    /// <summary>Gets its top folder.</summary>
    public static string Root { get; } = Find();

    /// <summary>The C# files below these folders, as paths from the top with forward slashes.</summary>
    public static IEnumerable<string> Sources(params string[] folders) => folders
        .SelectMany(f => Directory.EnumerateFiles(Path.Combine(Root, f), "*.cs", SearchOption.AllDirectories))
        .Select(f => Path.GetRelativePath(Root, f).Replace('\\', '/'))
        .Where(f => !f.Contains("/obj/", StringComparison.Ordinal) && !f.Contains("/bin/", StringComparison.Ordinal))
        .Order(StringComparer.Ordinal);

    /// <summary>The text of a file.</summary>
    public static string Read(string path) => File.ReadAllText(Path.Combine(Root, path));

    /// <summary>A C# file as its compiler sees it.</summary>
    public static Microsoft.CodeAnalysis.SyntaxNode Parse(string path) => CSharpSyntaxTree.ParseText(Read(path), new(LanguageVersion.Latest)).GetRoot();

    private static string Find()
    {
        var folder = new DirectoryInfo(AppContext.BaseDirectory);
        while (folder is not null && !File.Exists(Path.Combine(folder.FullName, "Traceability.sln")))
        {
            folder = folder.Parent;
        }

        return folder?.FullName ?? throw new InvalidOperationException("Traceability.sln is in no folder above the tests.");
    }
}
