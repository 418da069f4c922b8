using System.Globalization;

namespace Traceability.Service.Features.MasterData;

/// <summary>JSON pointers (RFC 6901) into a file of placed nodes.</summary>
internal static class JsonPath
{
    /// <summary>The pointer one member further.</summary>
    public static string Append(string pointer, string name) =>
        $"{pointer}/{name.Replace("~", "~0", StringComparison.Ordinal).Replace("/", "~1", StringComparison.Ordinal)}";

    /// <summary>The place of a pointer; where it leads nowhere (a member that is missing), that of the last part that is there.</summary>
    public static (int Line, int Column) Place(PlacedNode root, string pointer)
    {
        var node = root;
        var (line, column) = (root.Line, root.Column);
        foreach (var part in pointer.Split('/').Skip(1))
        {
            var name = part.Replace("~1", "/", StringComparison.Ordinal).Replace("~0", "~", StringComparison.Ordinal);
            if (node is PlacedMap map && map.Find(name) is { } member)
            {
                (line, column, node) = (member.Line, member.Column, member.Value);
            }
            else if (node is PlacedList list && int.TryParse(name, NumberStyles.None, CultureInfo.InvariantCulture, out var index) && index < list.Entries.Length)
            {
                node = list.Entries[index];
                (line, column) = (node.Line, node.Column);
            }
            else
            {
                break;
            }
        }

        return (line, column);
    }
}
