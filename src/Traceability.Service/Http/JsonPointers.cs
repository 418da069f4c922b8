using System.Text;

namespace Traceability.Service.Http;

/// <summary>JSON pointers (RFC 6901).</summary>
internal static class JsonPointers
{
    /// <summary>Reads the path that System.Text.Json gives with an error: "$.a.b[0]", "$['odd name']".</summary>
    public static string FromPath(string path)
    {
        var pointer = new StringBuilder();
        var at = path.StartsWith('$') ? 1 : 0;
        while (at < path.Length)
        {
            var (start, end, next) = Piece(path, at);
            pointer.Append('/').Append(path[start..end].Replace("~", "~0", StringComparison.Ordinal).Replace("/", "~1", StringComparison.Ordinal));
            at = next;
        }

        return pointer.ToString();
    }

    private static (int Start, int End, int Next) Piece(string path, int at)
    {
        if (path.AsSpan(at).StartsWith("['") && path.IndexOf("']", at + 2, StringComparison.Ordinal) is > 0 and var quoted)
        {
            return (at + 2, quoted, quoted + 2);
        }

        if (path[at] == '[' && path.IndexOf(']', at) is > 0 and var bracket)
        {
            return (at + 1, bracket, bracket + 1);
        }

        var start = path[at] == '.' ? at + 1 : at;
        var end = start >= path.Length ? -1 : path.IndexOfAny(['.', '['], start);

        // A name that begins with what ends one is taken whole, so that reading always gets on.
        end = end <= start ? path.Length : end;
        return (start, end, end);
    }
}
