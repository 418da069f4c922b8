using System.Globalization;
using System.Runtime.InteropServices;
using System.Text;
using System.Text.Json;
using Traceability.Contracts;
using Traceability.Domain.Primitives;
using Traceability.Domain.Quantities;

namespace Traceability.Service.Http.Reading;

/// <summary>Reads single values: each either has the form, or becomes a fault that says the form.</summary>
internal static class Scalars
{
    private const int NumberLengthMax = 64;
    private const int TimeLengthMax = 64;
    private const string TimeForm = "A time is expected as RFC 3339 with its offset, such as 2026-03-02T08:15:00+01:00.";

    public static bool TryCode<T>(this JsonReading reading, JsonElement element, string? member, out T code)
        where T : struct, ICode<T>
    {
        code = default;
        if (element.ValueKind == JsonValueKind.String && Codes.TryParse(JsonMarshal.GetRawUtf8Value(element)[1..^1], out code))
        {
            return true;
        }

        if (!reading.IsText(element, member, out var text))
        {
            return false;
        }

        if (!Codes.TryParse(text, out code))
        {
            reading.Fail(member, Codes.Form<T>() + ".");
            return false;
        }

        return true;
    }

    public static bool TryText(this JsonReading reading, JsonElement element, string? member, out string text)
    {
        if (!reading.IsText(element, member, out text))
        {
            return false;
        }

        if (text.Length > WireLimits.TextLengthMax)
        {
            reading.Fail(member, $"The text has {text.Length} characters; at most {WireLimits.TextLengthMax} are allowed.");
            return false;
        }

        foreach (var c in text)
        {
            if (char.IsControl(c) && c is not ('\n' or '\r' or '\t'))
            {
                reading.Fail(member, $"The text holds the control character U+{(int)c:X4}. Only line breaks and tabs are allowed.");
                return false;
            }
        }

        return true;
    }

    public static bool TryTime(this JsonReading reading, JsonElement element, string? member, out DateTimeOffset time)
    {
        time = default;
        if (element.ValueKind != JsonValueKind.String)
        {
            reading.Fail(member, $"{TimeForm} This is {JsonReading.Describe(element)}.");
            return false;
        }

        // The parser of the framework also takes dates alone and times without offset, which it reads as local ones.
        Span<byte> unescaped = stackalloc byte[TimeLengthMax];
        var raw = Unescaped(JsonMarshal.GetRawUtf8Value(element)[1..^1], element, unescaped);
        var hasTime = raw.Length >= 20 && raw[10] == 'T' && raw[16] == ':';
        var hasOffset = hasTime && (raw[^1] == 'Z' || (raw[^3] == ':' && raw[^6] is (byte)'+' or (byte)'-'));
        if (!hasOffset || !element.TryGetDateTimeOffset(out time))
        {
            var looksLikeTime = raw.Length >= 19 && raw[10] == 'T' && raw[16] == ':';
            reading.Fail(member, looksLikeTime && !hasOffset ? $"{TimeForm} The offset is missing; Z stands for UTC." : TimeForm);
            return false;
        }

        if (time < WireLimits.TimeMin || time >= WireLimits.TimeMax)
        {
            reading.Fail(member, "The time must lie between the years 1970 and 2200.");
            return false;
        }

        return true;
    }

    public static bool TryDuration(this JsonReading reading, JsonElement element, string? member, out TimeSpan duration)
    {
        duration = default;
        if (!reading.IsText(element, member, out var text))
        {
            return false;
        }

        if (!IsoDuration.TryParse(text, out duration))
        {
            reading.Fail(member, "A duration is expected as ISO 8601, such as PT10M, PT1H30M or P5D, without years and months.");
            return false;
        }

        if (duration < TimeSpan.Zero || duration > WireLimits.DurationMax)
        {
            reading.Fail(member, "A duration must not be negative, nor longer than 50 years.");
            return false;
        }

        return true;
    }

    public static bool TryFlag(this JsonReading reading, JsonElement element, string? member, out bool flag)
    {
        flag = element.ValueKind == JsonValueKind.True;
        if (element.ValueKind is JsonValueKind.True or JsonValueKind.False)
        {
            return true;
        }

        reading.Fail(member, $"true or false is expected, not {JsonReading.Describe(element)}.");
        return false;
    }

    public static bool TryNumber(this JsonReading reading, JsonElement element, string? member, out decimal number)
    {
        number = 0m;
        if (element.ValueKind != JsonValueKind.Number)
        {
            var hint = element.ValueKind == JsonValueKind.String ? " Send it without quotes; NaN and infinity are not values." : string.Empty;
            reading.Fail(member, $"A number is expected, not {JsonReading.Describe(element)}.{hint}");
            return false;
        }

        var raw = JsonMarshal.GetRawUtf8Value(element);
        Span<char> text = stackalloc char[NumberLengthMax + 1];
        var length = Math.Min(raw.Length, text.Length);
        for (var i = 0; i < length; i++)
        {
            text[i] = (char)raw[i];
        }

        if (RecordedValue.TryParse(text[..length], out number, out var reason))
        {
            return true;
        }

        reading.Fail(member, reason);
        return false;
    }

    public static bool TryCount(this JsonReading reading, JsonElement element, string? member, int max, out int count)
    {
        count = 0;
        if (element.ValueKind == JsonValueKind.Number && element.TryGetInt32(out count) && count >= 1 && count <= max)
        {
            return true;
        }

        reading.Fail(member, string.Create(CultureInfo.InvariantCulture, $"A whole number from 1 to {max} is expected."));
        return false;
    }

    public static bool TryId(this JsonReading reading, JsonElement element, string? member, out Guid id)
    {
        id = Guid.Empty;
        if (!reading.IsText(element, member, out var text))
        {
            return false;
        }

        if (Guid.TryParseExact(text, "D", out id) && id != Guid.Empty)
        {
            return true;
        }

        reading.Fail(member, "A UUID is expected, such as 01890a5d-ac96-774b-bcce-b302099a8057, and not all zeros.");
        return false;
    }

    public static bool TryOneOf<TEnum>(this JsonReading reading, JsonElement element, string? member, out TEnum value)
        where TEnum : struct, Enum
    {
        value = default;
        if (!reading.IsText(element, member, out var text))
        {
            return false;
        }

        foreach (var (name, candidate) in EnumNames<TEnum>.All)
        {
            if (string.Equals(text, name, StringComparison.Ordinal))
            {
                value = candidate;
                return true;
            }
        }

        reading.Fail(member, $"One of {string.Join(", ", EnumNames<TEnum>.All.Select(a => a.Name))} is expected.");
        return false;
    }

    public static bool TryUnitOfMeasure(this JsonReading reading, JsonElement element, string? member, out string unit)
    {
        if (!reading.IsText(element, member, out unit))
        {
            return false;
        }

        if (UcumUnit.TryParse(unit, out var known, out var reason))
        {
            unit = known.Code;
            return true;
        }

        reading.Fail(member, reason);
        return false;
    }

    // Many writers escape the plus sign of an offset.
    private static ReadOnlySpan<byte> Unescaped(ReadOnlySpan<byte> raw, JsonElement element, Span<byte> buffer)
    {
        if (!raw.Contains((byte)'\\'))
        {
            return raw;
        }

        try
        {
            return Encoding.UTF8.TryGetBytes(element.GetString(), buffer, out var written) ? buffer[..written] : [];
        }
        catch (InvalidOperationException)
        {
            return [];
        }
    }

    private static bool IsText(this JsonReading reading, JsonElement element, string? member, out string text)
    {
        text = string.Empty;
        if (element.ValueKind != JsonValueKind.String)
        {
            reading.Fail(member, $"A text is expected, not {JsonReading.Describe(element)}.");
            return false;
        }

        try
        {
            text = element.GetString()!;
            return true;
        }
        catch (InvalidOperationException)
        {
            reading.Fail(member, "The text is not valid Unicode.");
            return false;
        }
    }

    private static class EnumNames<TEnum>
        where TEnum : struct, Enum
    {
        public static readonly (string Name, TEnum Value)[] All =
            [.. Enum.GetValues<TEnum>().Select(v => (JsonNamingPolicy.KebabCaseLower.ConvertName(v.ToString()), v))];
    }
}
