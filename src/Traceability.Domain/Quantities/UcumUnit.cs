using System.Collections.Concurrent;
using System.Diagnostics.CodeAnalysis;

namespace Traceability.Domain.Quantities;

/// <summary>A unit of measure, written as a case-sensitive UCUM code such as <c>N.m</c> or <c>Cel</c>.</summary>
/// <remarks>
/// <para>
/// Immutable and safe to share. Two units are equal when their codes are equal; <c>N.m</c> and <c>J</c> are
/// different units of the same dimension. Everything that UCUM gives as exact is held exactly.
/// </para>
/// <para>
/// Source: The Unified Code for Units of Measure, version 2.2. The table is a subset; see <c>UcumAtoms</c>.
/// </para>
/// </remarks>
public sealed class UcumUnit : IEquatable<UcumUnit>, IParsable<UcumUnit>
{
    /// <summary>The most characters that a code may have.</summary>
    public const int LengthMax = 64;

    private const int CacheEntriesMax = 2048;

    private static readonly Ratio GramsInKilograms = Ratio.Of(1, 1000);

    // Emptied when full: the codes in real use come back at once, and a flood of odd ones costs no memory.
    private static readonly ConcurrentDictionary<string, UcumUnit> Cache = new(StringComparer.Ordinal);

    private readonly int _hash;

    private UcumUnit(string code, UcumAtom parsed)
    {
        Code = code;
        Magnitude = parsed.Magnitude;
        Offset = parsed.Offset;
        _hash = string.GetHashCode(code, StringComparison.Ordinal);
    }

    /// <summary>The unit of plain numbers and counts, <c>1</c>.</summary>
    public static UcumUnit One { get; } = Parse("1");

    /// <summary>The code, as it was written.</summary>
    public string Code { get; }

    /// <summary>What the unit measures.</summary>
    public Dimension Dimension => Magnitude.Dimension;

    /// <summary>Whether readings are points on a scale with a zero of its own (Cel, [degF]). Such readings convert; their differences are in K.</summary>
    public bool IsSpecial => !Offset.IsZero;

    internal UcumMagnitude Magnitude { get; }

    internal Ratio Offset { get; }

    /// <summary>What one of it is in the coherent SI unit. UCUM counts mass in grams, the SI in kilograms.</summary>
    internal Ratio CoherentFactor => Magnitude.PiPower == 0 && Dimension.Mass == 0
        ? Magnitude.Factor
        : Magnitude.Factor * UcumAtoms.Pi.Power(Magnitude.PiPower) * GramsInKilograms.Power(Dimension.Mass);

    /// <summary>Whether readings in this unit can be converted into the other.</summary>
    public bool IsCommensurableWith(UcumUnit other) => Dimension == other.Dimension;

    /// <summary>A difference of readings in this unit in the coherent SI unit, as the nearest double: 0.5 Cel is 0.5 K here. See <see cref="Quantity.ToCoherent"/>.</summary>
    public double ToCoherentDifference(decimal difference) => (Ratio.Of(difference) * CoherentFactor).ToDouble();

    /// <summary>Reads a code, or throws <see cref="FormatException"/> with the reason.</summary>
    public static UcumUnit Parse(string code) =>
        TryParse(code, out var unit, out var reason) ? unit : throw new FormatException(reason);

    /// <inheritdoc />
    static UcumUnit IParsable<UcumUnit>.Parse(string s, IFormatProvider? provider) => Parse(s);

    /// <inheritdoc />
    static bool IParsable<UcumUnit>.TryParse([NotNullWhen(true)] string? s, IFormatProvider? provider, [MaybeNullWhen(false)] out UcumUnit result) =>
        TryParse(s, out result, out _);

    /// <summary>Reads a code; false if it is not a UCUM code that this service knows.</summary>
    public static bool TryParse([NotNullWhen(true)] string? code, [NotNullWhen(true)] out UcumUnit? unit) => TryParse(code, out unit, out _);

    /// <summary>Reads a code; otherwise gives a sentence that says what is wrong and, where it can be guessed, which code was meant.</summary>
    /// <param name="code">A UCUM code of 1 to <see cref="LengthMax"/> characters. Everyday forms such as <c>Nm</c> or <c>°C</c> are not read.</param>
    /// <param name="unit">The unit.</param>
    /// <param name="reason">Why not, for a person.</param>
    public static bool TryParse(
        [NotNullWhen(true)] string? code,
        [NotNullWhen(true)] out UcumUnit? unit,
        [NotNullWhen(false)] out string? reason)
    {
        unit = null;
        if (string.IsNullOrEmpty(code))
        {
            reason = "A unit is missing. Give a UCUM code, or 1 for a plain number.";
            return false;
        }

        if (Cache.TryGetValue(code, out unit))
        {
            reason = null;
            return true;
        }

        if (code.Length > LengthMax)
        {
            reason = $"A unit code has at most {LengthMax} characters.";
            return false;
        }

        if (!TryRead(code, out unit, out var fault))
        {
            reason = UcumSuggestions.For(code) is { } suggestion
                ? $"'{code}' is not a UCUM code. {fault} Did you mean '{suggestion}'?"
                : $"'{code}' is not a UCUM code. {fault}";
            return false;
        }

        reason = null;
        Remember(unit);
        return true;
    }

    /// <inheritdoc />
    public bool Equals(UcumUnit? other) =>
        ReferenceEquals(this, other) || (other is not null && _hash == other._hash && string.Equals(Code, other.Code, StringComparison.Ordinal));

    /// <inheritdoc />
    public override bool Equals(object? obj) => Equals(obj as UcumUnit);

    /// <inheritdoc />
    public override int GetHashCode() => _hash;

    /// <summary>The code.</summary>
    public override string ToString() => Code;

    /// <summary>Whether a text parses, without remembering it.</summary>
    internal static bool IsCode(string text) => text.Length is > 0 and <= LengthMax && TryRead(text, out _, out _);

    private static bool TryRead(string code, [NotNullWhen(true)] out UcumUnit? unit, [NotNullWhen(false)] out string? fault)
    {
        string? scaleFault = null;
        var read = UcumParser.TryParse(
            code,
            symbol =>
            {
                var atom = UcumAtoms.Find(symbol, out var prefixed);
                if (atom is { IsSpecial: true } && prefixed)
                {
                    scaleFault = "Cel is a point on a scale and takes no prefix.";
                    return null;
                }

                return atom;
            },
            out var parsed,
            out fault);
        fault = read ? null : scaleFault ?? fault;
        unit = read ? new UcumUnit(code, parsed!) : null;
        return read;
    }

    private static void Remember(UcumUnit unit)
    {
        if (Cache.Count >= CacheEntriesMax)
        {
            Cache.Clear();
        }

        Cache.TryAdd(unit.Code, unit);
    }
}
