using System.Buffers;
using System.Globalization;
using System.Runtime.InteropServices;
using System.Security.Cryptography;
using System.Text;
using System.Text.Json;
using Traceability.Domain.Quantities;

namespace Traceability.Service.Http.Reading;

/// <summary>The content of a fact as it was sent, in one form, so that a repeat can be told from a conflict.</summary>
/// <remarks>
/// Canonical JSON after RFC 8785: no white space, members sorted by UTF-16 code units, shortest escapes. It differs
/// where a record needs it: numbers keep their decimal digits (1.50 is not 1.5; 15e-1 is 1.5). Members that are null
/// and empty arrays are left out, since they say the same as not being there. The sender's id is no content.
/// </remarks>
public static class FactContent
{
    private const int BufferKeptMax = 64 * 1024;
    private static readonly SearchValues<byte> DecimalDigits = SearchValues.Create("0123456789."u8);

    // Every fact that arrives is hashed: what that takes is kept by the thread.
    [ThreadStatic]
    private static ArrayBufferWriter<byte>? _buffer;
    [ThreadStatic]
    private static List<JsonProperty>? _members;

    /// <summary>SHA-256 of the canonical content of a fact: 32 bytes.</summary>
    /// <param name="fact">A fact without faults: no member twice, valid Unicode.</param>
    public static byte[] Hash(JsonElement fact)
    {
        var canonical = _buffer ??= new(4096);
        canonical.ResetWrittenCount();
        Write(canonical, fact, isRoot: true);
        var hash = SHA256.HashData(canonical.WrittenSpan);
        if (canonical.Capacity > BufferKeptMax)
        {
            _buffer = null;
        }

        return hash;
    }

    /// <summary>The canonical content, for showing what the hash is over.</summary>
    public static string Canonical(JsonElement fact)
    {
        var canonical = new ArrayBufferWriter<byte>(1024);
        Write(canonical, fact, isRoot: true);
        return Encoding.UTF8.GetString(canonical.WrittenSpan);
    }

    private static void Write(ArrayBufferWriter<byte> to, JsonElement element, bool isRoot)
    {
        switch (element.ValueKind)
        {
            case JsonValueKind.Object:
                WriteObject(to, element, isRoot);
                break;
            case JsonValueKind.Array:
                var separator = "["u8;
                foreach (var entry in element.EnumerateArray())
                {
                    to.Write(separator);
                    Write(to, entry, isRoot: false);
                    separator = ","u8;
                }

                to.Write(separator[0] == (byte)'[' ? "[]"u8 : "]"u8);
                break;
            case JsonValueKind.String:
                WriteString(to, element);
                break;
            case JsonValueKind.Number:
                WriteNumber(to, element);
                break;
            default:
                to.Write(JsonMarshal.GetRawUtf8Value(element));
                break;
        }
    }

    private static void WriteObject(ArrayBufferWriter<byte> to, JsonElement element, bool isRoot)
    {
        var members = _members ??= new(64);
        var start = members.Count;
        foreach (var property in element.EnumerateObject())
        {
            var isSilent = property.Value.ValueKind == JsonValueKind.Null
                || (property.Value.ValueKind == JsonValueKind.Array && property.Value.GetArrayLength() == 0);
            if (!isSilent && !(isRoot && property.NameEquals("factId"u8)))
            {
                members.Add(property);
            }
        }

        CollectionsMarshal.AsSpan(members)[start..].Sort(CompareNames);
        to.Write("{"u8);
        for (var i = start; i < members.Count; i++)
        {
            if (i > start)
            {
                to.Write(","u8);
            }

            var name = JsonMarshal.GetRawUtf8PropertyName(members[i]);
            if (IsPlain(name))
            {
                to.Write("\""u8);
                to.Write(name);
                to.Write("\""u8);
            }
            else
            {
                WriteText(to, members[i].Name);
            }

            to.Write(":"u8);
            Write(to, members[i].Value, isRoot: false);
        }

        members.RemoveRange(start, members.Count - start);
        to.Write("}"u8);
    }

    // By UTF-16 code units, which for names of ASCII characters is by their bytes.
    private static int CompareNames(JsonProperty a, JsonProperty b)
    {
        var left = JsonMarshal.GetRawUtf8PropertyName(a);
        var right = JsonMarshal.GetRawUtf8PropertyName(b);
        return IsPlain(left) && IsPlain(right) ? left.SequenceCompareTo(right) : string.CompareOrdinal(a.Name, b.Name);
    }

    private static bool IsPlain(ReadOnlySpan<byte> name) => Ascii.IsValid(name) && !name.Contains((byte)'\\');

    private static void WriteString(ArrayBufferWriter<byte> to, JsonElement element)
    {
        // What carries no escape is in its shortest form already.
        var raw = JsonMarshal.GetRawUtf8Value(element);
        if (raw.Contains((byte)'\\'))
        {
            WriteText(to, element.GetString()!);
        }
        else
        {
            to.Write(raw);
        }
    }

    private static void WriteNumber(ArrayBufferWriter<byte> to, JsonElement element)
    {
        var raw = JsonMarshal.GetRawUtf8Value(element);
        if (IsDecimalDigits(raw) || !RecordedValue.TryParse(Encoding.ASCII.GetString(raw), out var value, out _))
        {
            to.Write(raw);
            return;
        }

        Span<byte> digits = stackalloc byte[40];
        value.TryFormat(digits, out var written, provider: CultureInfo.InvariantCulture);
        to.Write(digits[..written]);
    }

    // A decimal without exponent that is surely held with all its digits is written back as it came.
    private static bool IsDecimalDigits(ReadOnlySpan<byte> raw) =>
        raw.Length <= 20 && raw[0] != (byte)'-' && raw.IndexOfAnyExcept(DecimalDigits) < 0;

    private static void WriteText(ArrayBufferWriter<byte> to, string text)
    {
        to.Write("\""u8);
        var start = 0;
        for (var i = 0; i < text.Length; i++)
        {
            var c = text[i];
            if (c >= ' ' && c is not ('"' or '\\'))
            {
                continue;
            }

            Encoding.UTF8.GetBytes(text.AsSpan(start, i - start), to);
            Encoding.UTF8.GetBytes(Escape(c), to);
            start = i + 1;
        }

        Encoding.UTF8.GetBytes(text.AsSpan(start), to);
        to.Write("\""u8);
    }

    private static string Escape(char c) => c switch
    {
        '"' => "\\\"",
        '\\' => "\\\\",
        '\b' => "\\b",
        '\t' => "\\t",
        '\n' => "\\n",
        '\f' => "\\f",
        '\r' => "\\r",
        _ => string.Create(CultureInfo.InvariantCulture, $"\\u{(int)c:x4}"),
    };
}
