using System.Buffers.Text;
using System.Diagnostics.CodeAnalysis;
using System.Security.Cryptography;
using System.Text;

namespace Traceability.Service.Security;

/// <summary>The text of a key, which only its holder has, and the hash of it, which the service stores.</summary>
/// <remarks>
/// A key is "trc_" and 256 random bits in base64url (RFC 4648, section 5): 47 characters. The prefix lets scanners of logs
/// and repositories find a key that got out. One round of SHA-256 without salt is enough to store it: what makes slow,
/// salted hashing needed is that passwords can be guessed. Source: NIST SP 800-63B (revision 3), section 5.1.2.2: secrets
/// of at least 112 bits of entropy are hashed with an approved one-way function, only those with fewer also salted.
/// </remarks>
internal static class KeySecret
{
    /// <summary>What every key begins with.</summary>
    public const string Prefix = "trc_";

    /// <summary>Random bytes in a key.</summary>
    public const int RandomBytes = 32;

    private const int Length = 47;

    /// <summary>Makes the text of a new key.</summary>
    public static string Make(RandomNumberGenerator random)
    {
        var bytes = new byte[RandomBytes];
        random.GetBytes(bytes);
        return Prefix + Base64Url.EncodeToString(bytes);
    }

    /// <summary>The hash under which the key is stored; false if the text is no key.</summary>
    public static bool TryHash(string text, [NotNullWhen(true)] out byte[]? hash)
    {
        // Only the form that Make gives: base64url has several spellings of the same bytes, and the hash is of the text.
        var isKey = text.Length == Length && text.StartsWith(Prefix, StringComparison.Ordinal) && Base64Url.IsValid(text.AsSpan(Prefix.Length));
        hash = isKey ? SHA256.HashData(Encoding.ASCII.GetBytes(text)) : null;
        return isKey;
    }
}
