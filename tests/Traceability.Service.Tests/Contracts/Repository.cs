namespace Traceability.Service.Tests.ContractTests;

/// <summary>Finds the folders of the repository from where the tests run.</summary>
internal static class Repository
{
    /// <summary>The folder that holds the solution.</summary>
    public static string Root { get; } = Find(AppContext.BaseDirectory);

    /// <summary>The folder contracts/.</summary>
    public static string Contracts { get; } = Path.Combine(Root, "contracts");

    private static string Find(string folder) =>
        File.Exists(Path.Combine(folder, "Traceability.sln"))
            ? folder
            : Find(Path.GetDirectoryName(folder) ?? throw new DirectoryNotFoundException("The tests must run below the folder of Traceability.sln."));
}
