using System.Diagnostics.CodeAnalysis;
using System.Globalization;
using System.Numerics;

namespace Traceability.Domain.Quantities;

/// <summary>Reads unit terms by UCUM's grammar, from left to right.</summary>
/// <remarks>
/// Source: UCUM 2.2, sections 2.1 to 2.3 and exhibit 1 (the grammar). Beyond it, one restriction: a special
/// unit (Cel, [degF]) stands alone, without prefix or exponent, because only a point on its scale has a meaning.
/// </remarks>
internal ref struct UcumParser
{
    private const int DepthMax = 8;
    private const int FactorDigitsMax = 9;
    private const int ExponentMax = 30;

    private readonly string _text;
    private readonly Func<string, UcumAtom?> _find;
    private int _at;
    private int _components;
    private UcumAtom? _special;
    private string? _reason;

    private UcumParser(string text, Func<string, UcumAtom?> find)
    {
        _text = text;
        _find = find;
    }

    private readonly char Next => _at < _text.Length ? _text[_at] : '\0';

    /// <summary>Reads a whole term; the atom given back carries its magnitude, and the offset of a special unit.</summary>
    public static bool TryParse(
        string text,
        Func<string, UcumAtom?> find,
        [NotNullWhen(true)] out UcumAtom? parsed,
        [NotNullWhen(false)] out string? reason)
    {
        var parser = new UcumParser(text, find);
        var read = parser.TryTerm(0, out var magnitude) && parser.AtEnd();
        if (read && parser._special is not null && parser._components > 1)
        {
            read = parser.Fail("Cel and [degF] are points on a scale and stand alone; use K inside a compound unit or for a difference.");
        }

        reason = read ? null : parser._reason ?? "It does not parse.";
        parsed = read ? new UcumAtom(Metric: false, magnitude, parser._special?.Offset ?? Ratio.Zero) : null;
        return read;
    }

    private bool AtEnd() => _at == _text.Length || Fail($"'{Next}' is not expected at position {Position}.");

    private readonly string Position => (_at + 1).ToString(CultureInfo.InvariantCulture);

    private bool Fail(string reason)
    {
        _reason ??= reason;
        return false;
    }

    private bool TryTerm(int depth, out UcumMagnitude magnitude)
    {
        magnitude = UcumMagnitude.One;

        // A leading solidus inverts only what follows it directly (§7), so it is an ordinary step from one.
        var power = 1;
        if (depth == 0 && Next == '/')
        {
            _components++;
            power = -1;
            _at++;
        }

        while (true)
        {
            if (!TryComponent(depth, out var component))
            {
                return false;
            }

            if (!magnitude.TryMultiply(component, power, out magnitude))
            {
                return Fail("Its powers or factors are beyond those of any real unit.");
            }

            if (Next is not ('.' or '/'))
            {
                return true;
            }

            power = Next == '/' ? -1 : 1;
            _at++;
        }
    }

    private bool TryComponent(int depth, out UcumMagnitude magnitude)
    {
        magnitude = UcumMagnitude.One;
        _components++;
        switch (Next)
        {
            case '\0':
                return Fail("It ends where a unit is expected.");
            case '{':
                return TryAnnotation();
            case '(':
                return TryParenthesis(depth, out magnitude);
            case >= '0' and <= '9' when !StartsPowerOfTen():
                return TryFactor(out magnitude);
            default:
                return TrySimpleUnit(out magnitude) && (Next != '{' || TryAnnotation());
        }
    }

    private readonly bool StartsPowerOfTen() =>
        _text.AsSpan(_at).StartsWith("10*", StringComparison.Ordinal) || _text.AsSpan(_at).StartsWith("10^", StringComparison.Ordinal);

    private bool TryParenthesis(int depth, out UcumMagnitude magnitude)
    {
        magnitude = UcumMagnitude.One;
        if (depth == DepthMax)
        {
            return Fail("Its parentheses are nested too deeply.");
        }

        _at++;
        if (!TryTerm(depth + 1, out magnitude))
        {
            return false;
        }

        if (Next != ')')
        {
            return Fail("A parenthesis is not closed.");
        }

        _at++;
        return true;
    }

    private bool TryAnnotation()
    {
        var end = _text.IndexOf('}', _at);
        if (end < 0)
        {
            return Fail("A brace is not closed.");
        }

        foreach (var c in _text.AsSpan(_at + 1, end - _at - 1))
        {
            if (c is < '!' or > '~' or '{')
            {
                return Fail("An annotation in braces has printable ASCII characters only, without spaces.");
            }
        }

        _at = end + 1;
        return true;
    }

    private bool TryFactor(out UcumMagnitude magnitude)
    {
        magnitude = UcumMagnitude.One;
        var digits = Digits();
        if (digits.Length > FactorDigitsMax || !int.TryParse(digits, NumberStyles.None, CultureInfo.InvariantCulture, out var factor) || factor == 0)
        {
            return Fail("A number in a unit is a whole number from 1 to 999999999.");
        }

        magnitude = new UcumMagnitude(Ratio.Of(factor, BigInteger.One), 0, default);
        return true;
    }

    private bool TrySimpleUnit(out UcumMagnitude magnitude)
    {
        magnitude = UcumMagnitude.One;
        var symbol = Symbol();
        if (symbol.Length == 0)
        {
            return Fail($"'{Next}' at position {Position} starts no unit.");
        }

        if (_find(symbol) is not { } atom)
        {
            return Fail($"'{symbol}' is not a unit symbol.");
        }

        if (atom.IsSpecial)
        {
            _special = atom;
        }

        if (!TryExponent(out var exponent, out var present))
        {
            return false;
        }

        if (present && atom.IsSpecial)
        {
            return Fail("Cel and [degF] are points on a scale and take no exponent.");
        }

        return UcumMagnitude.One.TryMultiply(atom.Magnitude, exponent, out magnitude)
            || Fail("Its powers or factors are beyond those of any real unit.");
    }

    private bool TryExponent(out int exponent, out bool present)
    {
        exponent = 1;
        present = Next is '+' or '-' or (>= '0' and <= '9');
        if (!present)
        {
            return true;
        }

        var negative = Next == '-';
        if (Next is '+' or '-')
        {
            _at++;
        }

        var digits = Digits();
        if (!int.TryParse(digits, NumberStyles.None, CultureInfo.InvariantCulture, out exponent) || exponent is 0 or > ExponentMax)
        {
            return Fail("An exponent is a whole number from 1 to 30, up or down.");
        }

        exponent = negative ? -exponent : exponent;
        return true;
    }

    private ReadOnlySpan<char> Digits()
    {
        var start = _at;
        while (Next is >= '0' and <= '9')
        {
            _at++;
        }

        return _text.AsSpan(start, _at - start);
    }

    // Up to an operator, a digit or a sign; what stands in square brackets belongs to the symbol as a whole.
    private string Symbol()
    {
        var start = _at;
        if (StartsPowerOfTen())
        {
            _at += 3;
            return _text[start.._at];
        }

        var inBrackets = false;
        while (_at < _text.Length)
        {
            var c = _text[_at];
            inBrackets = c == '[' || (inBrackets && c != ']');
            if (!inBrackets && c is '.' or '/' or '(' or ')' or '{' or '}' or '+' or '-' or (>= '0' and <= '9'))
            {
                break;
            }

            _at++;
        }

        return _text[start.._at];
    }
}
