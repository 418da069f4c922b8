using System.Globalization;
using System.Reflection;
using System.Security.Cryptography;
using System.Text;

namespace Traceability.Service.Storage.Schema;

/// <summary>One numbered SQL file that changes the service's tables.</summary>
/// <param name="Number">Its number: they are applied in this order.</param>
/// <param name="Name">The file's name.</param>
/// <param name="Sql">The statements.</param>
internal sealed record Migration(int Number, string Name, string Sql)
{
    /// <summary>How the first line of a migration begins that a service of the version before can go on working with.</summary>
    public const string CompatibleMark = "-- Compatible:";

    /// <summary>How it begins otherwise: instances of older versions must be stopped before.</summary>
    public const string IncompatibleMark = "-- Incompatible:";

    private const string Folder = "Traceability.Service.Storage.Migrations.";

    /// <summary>The migrations of this version, in order.</summary>
    public static ImmutableArray<Migration> All { get; } =
    [
        .. Assembly.GetExecutingAssembly().GetManifestResourceNames()
            .Where(n => n.StartsWith(Folder, StringComparison.Ordinal))
            .Select(n => Read(n[Folder.Length..], n))
            .OrderBy(m => m.Number),
    ];

    /// <summary>SHA-256 of the text, as hexadecimal digits: tells an edited file from the one that was applied.</summary>
    public string Checksum { get; } = Convert.ToHexStringLower(SHA256.HashData(Encoding.UTF8.GetBytes(Sql)));

    /// <summary>Whether services of older versions can go on working when it has been applied (expand first, contract later).</summary>
    public bool IsCompatible => Sql.StartsWith(CompatibleMark, StringComparison.Ordinal);

    /// <summary>Makes a migration from a file's name and text; line ends don't count.</summary>
    internal static Migration Of(string name, string text) =>
        new(int.Parse(name.AsSpan(0, 4), NumberStyles.None, CultureInfo.InvariantCulture), name, text.ReplaceLineEndings("\n"));

    private static Migration Read(string name, string resource)
    {
        using var text = new StreamReader(Assembly.GetExecutingAssembly().GetManifestResourceStream(resource)!);
        return Of(name, text.ReadToEnd());
    }
}
