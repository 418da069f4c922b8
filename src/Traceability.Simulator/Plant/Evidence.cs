using System.Globalization;
using System.Security.Cryptography;
using System.Text;

namespace Traceability.Simulator.Plant;

/// <summary>A file that a fact of the plant names by the SHA-256 of its content: it is stored before the fact is sent.</summary>
/// <param name="Hash">64 hexadecimal digits in small letters.</param>
/// <param name="MediaType">Its type.</param>
/// <param name="Content">Its text, as UTF-8.</param>
public sealed record Evidence(string Hash, string MediaType, string Content)
{
    /// <summary>A trace as a logger writes it: time in seconds and current in amperes.</summary>
    internal static Evidence Trace(SplitMix random)
    {
        var text = new StringBuilder("seconds,amperes\r\n");
        for (var second = 0; second < 60; second++)
        {
            text.Append(CultureInfo.InvariantCulture, $"{second},{random.Bell(1.3m, 0.1m, 3)}\r\n");
        }

        var content = text.ToString();
        return new(Convert.ToHexStringLower(SHA256.HashData(Encoding.UTF8.GetBytes(content))), "text/csv", content);
    }
}
