using System.Collections.Frozen;
using System.Text;

namespace Traceability.Domain.Quantities;

/// <summary>Guesses which UCUM code an everyday way of writing a unit stands for. Only ever a hint in an error.</summary>
/// <remarks>Common practice, no source: what people and tools write instead of the code.</remarks>
internal static class UcumSuggestions
{
    private static readonly FrozenDictionary<string, string> Aliases = new Dictionary<string, string>(StringComparer.OrdinalIgnoreCase)
    {
        ["Nm"] = "N.m", ["newton metre"] = "N.m", ["cNm"] = "cN.m", ["Ncm"] = "N.cm", ["kNm"] = "kN.m", ["mNm"] = "mN.m",
        ["kgfm"] = "kgf.m", ["kgfcm"] = "kgf.cm", ["kgf-cm"] = "kgf.cm", ["kgf-m"] = "kgf.m", ["kp"] = "kgf",
        ["lbf"] = "[lbf_av]", ["lb"] = "[lb_av]", ["lbs"] = "[lb_av]", ["oz"] = "[oz_av]", ["ozf"] = "[oz_av].[g]",
        ["in-lb"] = "[lbf_av].[in_i]", ["in.lb"] = "[lbf_av].[in_i]", ["lb.in"] = "[lbf_av].[in_i]", ["lb-in"] = "[lbf_av].[in_i]",
        ["inlb"] = "[lbf_av].[in_i]", ["in-lbs"] = "[lbf_av].[in_i]", ["in.lbs"] = "[lbf_av].[in_i]", ["lbf-in"] = "[lbf_av].[in_i]",
        ["in-lbf"] = "[lbf_av].[in_i]", ["ft-lb"] = "[lbf_av].[ft_i]", ["ft.lb"] = "[lbf_av].[ft_i]", ["lb.ft"] = "[lbf_av].[ft_i]",
        ["lb-ft"] = "[lbf_av].[ft_i]", ["ftlb"] = "[lbf_av].[ft_i]", ["ft-lbs"] = "[lbf_av].[ft_i]", ["lbf-ft"] = "[lbf_av].[ft_i]",
        ["ft-lbf"] = "[lbf_av].[ft_i]", ["oz-in"] = "[oz_av].[g].[in_i]", ["oz.in"] = "[oz_av].[g].[in_i]",
        ["in-oz"] = "[oz_av].[g].[in_i]", ["in.oz"] = "[oz_av].[g].[in_i]", ["ozf-in"] = "[oz_av].[g].[in_i]",
        ["[ozf_av].[in_i]"] = "[oz_av].[g].[in_i]", ["[ozf_av]"] = "[oz_av].[g]",
        ["°C"] = "Cel", ["degC"] = "Cel", ["deg C"] = "Cel", ["℃"] = "Cel", ["celsius"] = "Cel", ["cel"] = "Cel", ["mCel"] = "Cel",
        ["°F"] = "[degF]", ["degF"] = "[degF]", ["deg F"] = "[degF]", ["℉"] = "[degF]", ["fahrenheit"] = "[degF]", ["°K"] = "K",
        ["in"] = "[in_i]", ["inch"] = "[in_i]", ["\""] = "[in_i]", ["ft"] = "[ft_i]", ["foot"] = "[ft_i]", ["feet"] = "[ft_i]",
        ["thou"] = "[mil_i]", ["mil"] = "[mil_i]", ["micron"] = "um", ["yd"] = "[yd_i]",
        ["psi"] = "[psi]", ["mmHg"] = "mm[Hg]", ["torr"] = "mm[Hg]", ["inH2O"] = "[in_i'H2O]", ["mmH2O"] = "mm[H2O]", ["cmH2O"] = "cm[H2O]",
        ["kpa"] = "kPa", ["hpa"] = "hPa", ["pa"] = "Pa", ["mb"] = "mbar", ["hz"] = "Hz", ["khz"] = "kHz", ["ohm"] = "Ohm", ["ohms"] = "Ohm",
        ["kohm"] = "kOhm", ["volt"] = "V", ["amp"] = "A", ["watt"] = "W", ["Ah"] = "A.h", ["mAh"] = "mA.h", ["Wh"] = "W.h",
        ["sec"] = "s", ["secs"] = "s", ["mins"] = "min", ["hr"] = "h", ["hrs"] = "h", ["day"] = "d", ["days"] = "d", ["hour"] = "h",
        ["hours"] = "h", ["minute"] = "min", ["minutes"] = "min", ["seconds"] = "s", ["second"] = "s",
        ["cc"] = "cm3", ["ccm"] = "cm3", ["litre"] = "L", ["liter"] = "L", ["kgs"] = "kg", ["kilo"] = "kg", ["gram"] = "g",
        ["°"] = "deg", ["degree"] = "deg", ["degrees"] = "deg", ["ppm"] = "[ppm]", ["percent"] = "%", ["pct"] = "%", ["rpm"] = "{turn}/min",
        ["pcs"] = "{pieces}", ["pieces"] = "{pieces}", ["ea"] = "{pieces}", ["each"] = "{pieces}", ["turns"] = "{turn}", ["turn"] = "{turn}",
    }.ToFrozenDictionary(StringComparer.OrdinalIgnoreCase);

    /// <summary>A valid code that the text may stand for; null when no guess is worth making.</summary>
    public static string? For(string text)
    {
        var plain = Plain(text);
        if (Aliases.TryGetValue(text.Trim(), out var whole) || Aliases.TryGetValue(plain, out whole))
        {
            return whole;
        }

        var parts = new StringBuilder();
        var start = 0;
        for (var i = 0; i <= plain.Length; i++)
        {
            if (i == plain.Length || plain[i] is '.' or '/')
            {
                var part = plain[start..i];
                parts.Append(!UcumUnit.IsCode(part) && Aliases.TryGetValue(part, out var code) ? code : part);
                parts.Append(i == plain.Length ? string.Empty : plain[i].ToString());
                start = i + 1;
            }
        }

        var guess = parts.ToString();
        return !string.Equals(guess, text, StringComparison.Ordinal) && UcumUnit.IsCode(guess) ? guess : null;
    }

    // Look-alikes of typography to the ASCII that UCUM uses.
    private static string Plain(string text)
    {
        var plain = new StringBuilder(text.Length);
        foreach (var c in text.Trim())
        {
            plain.Append(c switch
            {
                '·' or '⋅' or '×' or '•' or '∙' => ".",
                'µ' or 'μ' => "u",
                'Ω' or 'Ω' => "Ohm",
                '²' => "2",
                '³' => "3",
                '⁻' or '−' => "-",
                '¹' => "1",
                '*' or ' ' => ".",
                '^' => string.Empty,
                _ => c.ToString(),
            });
        }

        return plain.ToString();
    }
}
