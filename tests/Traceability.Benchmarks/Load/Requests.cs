using System.Text;

namespace Traceability.Benchmarks.Load;

/// <summary>Makes HTTP requests as bytes.</summary>
internal static class Requests
{
    public static byte[] Post(string path, string key, string id, string body, string type = "application/json")
    {
        var length = Encoding.UTF8.GetByteCount(body).ToString(CultureInfo.InvariantCulture);
        return Encoding.UTF8.GetBytes(
            $"POST {path} HTTP/1.1\r\nHost: localhost\r\nAuthorization: Bearer {key}\r\nFact-Id: {id}\r\nContent-Type: {type}\r\nContent-Length: {length}\r\n\r\n{body}");
    }

    public static byte[] Get(string path, string key) =>
        Encoding.UTF8.GetBytes($"GET {path} HTTP/1.1\r\nHost: localhost\r\nAuthorization: Bearer {key}\r\n\r\n");
}
