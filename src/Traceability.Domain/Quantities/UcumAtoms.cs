using System.Collections.Frozen;

namespace Traceability.Domain.Quantities;

/// <summary>One unit symbol of UCUM.</summary>
/// <param name="Metric">Whether a prefix may stand before it.</param>
/// <param name="Magnitude">Its value as a factor of the base units.</param>
/// <param name="Offset">Added to a reading before it is multiplied; zero for everything but the temperature scales.</param>
internal sealed record UcumAtom(bool Metric, UcumMagnitude Magnitude, Ratio Offset)
{
    public bool IsSpecial => !Offset.IsZero;
}

/// <summary>The unit symbols and prefixes that this service reads, each defined as UCUM defines it.</summary>
/// <remarks>
/// Source: UCUM 2.2 (2024-06-17), sections 4.1 to 4.5: symbol, "metric" column and definition of each row.
/// A subset. Left out on purpose: "t" and "a", whose prefixed forms hide mistakes ("ft" would read as a
/// femtotonne, "at" as an attotonne, "pt" as a picotonne); units on logarithmic scales; arbitrary units.
/// </remarks>
internal static class UcumAtoms
{
    /// <summary>The number π to the 64 places that UCUM gives.</summary>
    /// <remarks>Source: UCUM 2.2, section 4.3, row [pi].</remarks>
    public static Ratio Pi { get; } = Ratio.Parse("3.1415926535897932384626433832795028841971693993751058209749445923");

    // Longest first, because "da" would otherwise be read as "d".
    private static readonly (string Symbol, int Power)[] Prefixes =
    [
        ("da", 1), ("Y", 24), ("Z", 21), ("E", 18), ("P", 15), ("T", 12), ("G", 9), ("M", 6), ("k", 3), ("h", 2),
        ("d", -1), ("c", -2), ("m", -3), ("u", -6), ("n", -9), ("p", -12), ("f", -15), ("a", -18), ("z", -21), ("y", -24),
    ];

    // Symbol, metric, value, unit term of the value. A row may use the rows above it.
    private static readonly (string Symbol, bool Metric, string Value, string Term)[] Definitions =
    [
        ("10*", false, "10", "1"), ("10^", false, "10", "1"),
        ("%", false, "1", "10*-2"), ("[ppth]", false, "1", "10*-3"), ("[ppm]", false, "1", "10*-6"),
        ("[ppb]", false, "1", "10*-9"), ("[pptr]", false, "1", "10*-12"),
        ("C", true, "1", "A.s"), ("Hz", true, "1", "s-1"), ("N", true, "1", "kg.m/s2"), ("Pa", true, "1", "N/m2"),
        ("J", true, "1", "N.m"), ("W", true, "1", "J/s"), ("V", true, "1", "J/C"), ("F", true, "1", "C/V"),
        ("Ohm", true, "1", "V/A"), ("S", true, "1", "Ohm-1"), ("Wb", true, "1", "V.s"), ("T", true, "1", "Wb/m2"),
        ("H", true, "1", "Wb/A"), ("sr", true, "1", "rad2"), ("lm", true, "1", "cd.sr"), ("lx", true, "1", "lm/m2"),
        ("deg", false, "2", "[pi].rad/360"), ("gon", false, "0.9", "deg"), ("'", false, "1", "deg/60"),
        ("''", false, "1", "'/60"), ("circ", false, "2", "[pi].rad"),
        ("l", true, "1", "dm3"), ("L", true, "1", "l"),
        ("min", false, "60", "s"), ("h", false, "60", "min"), ("d", false, "24", "h"), ("wk", false, "7", "d"),
        ("bar", true, "100000", "Pa"), ("[g]", true, "9.80665", "m/s2"), ("atm", false, "101325", "Pa"),
        ("gf", true, "1", "g.[g]"), ("att", false, "1", "kgf/cm2"),
        ("dyn", true, "1", "g.cm/s2"), ("erg", true, "1", "dyn.cm"), ("P", true, "1", "dyn.s/cm2"), ("St", true, "1", "cm2/s"),
        ("[in_i]", false, "2.54", "cm"), ("[ft_i]", false, "12", "[in_i]"), ("[yd_i]", false, "3", "[ft_i]"),
        ("[mi_i]", false, "5280", "[ft_i]"), ("[mil_i]", false, "0.001", "[in_i]"), ("[sin_i]", false, "1", "[in_i]2"),
        ("[sft_i]", false, "1", "[ft_i]2"), ("[cin_i]", false, "1", "[in_i]3"), ("[cft_i]", false, "1", "[ft_i]3"),
        ("[gr]", false, "64.79891", "mg"), ("[lb_av]", false, "7000", "[gr]"), ("[oz_av]", false, "1", "[lb_av]/16"),
        ("[dr_av]", false, "1", "[oz_av]/16"), ("[lbf_av]", false, "1", "[lb_av].[g]"), ("[psi]", false, "1", "[lbf_av]/[in_i]2"),
        ("[gal_us]", false, "231", "[in_i]3"), ("[qt_us]", false, "1", "[gal_us]/4"), ("[pt_us]", false, "1", "[qt_us]/2"),
        ("[gil_us]", false, "1", "[pt_us]/4"), ("[foz_us]", false, "1", "[gil_us]/4"),
        ("m[H2O]", true, "9.80665", "kPa"), ("m[Hg]", true, "133.3220", "kPa"),
        ("[in_i'H2O]", false, "1", "m[H2O].[in_i]/m"), ("[in_i'Hg]", false, "1", "m[Hg].[in_i]/m"),
        ("[HP]", false, "550", "[ft_i].[lbf_av]/s"), ("[degR]", false, "5", "K/9"),
    ];

    private static readonly FrozenDictionary<string, UcumAtom> Atoms = Build();

    /// <summary>The atom that a symbol names, with its prefix applied; null if there is none.</summary>
    /// <param name="symbol">A symbol, such as "cm" or "[in_i]".</param>
    /// <param name="prefixed">Whether a prefix was found.</param>
    public static UcumAtom? Find(string symbol, out bool prefixed) => Find(Atoms, symbol, out prefixed);

    private static UcumAtom? Find(IReadOnlyDictionary<string, UcumAtom> atoms, string symbol, out bool prefixed)
    {
        prefixed = false;
        if (atoms.TryGetValue(symbol, out var atom))
        {
            return atom;
        }

        foreach (var (prefix, power) in Prefixes)
        {
            if (symbol.StartsWith(prefix, StringComparison.Ordinal)
                && atoms.TryGetValue(symbol[prefix.Length..], out atom)
                && atom.Metric)
            {
                prefixed = true;
                var factor = Ratio.Parse("10").Power(power);
                return atom with { Magnitude = atom.Magnitude with { Factor = atom.Magnitude.Factor * factor } };
            }
        }

        return null;
    }

    private static FrozenDictionary<string, UcumAtom> Build()
    {
        var atoms = new Dictionary<string, UcumAtom>(StringComparer.Ordinal)
        {
            ["m"] = Base(new(Length: 1)),
            ["s"] = Base(new(Time: 1)),
            ["g"] = Base(new(Mass: 1)),
            ["rad"] = Base(new(Angle: 1)),
            ["K"] = Base(new(Temperature: 1)),
            ["A"] = Base(new(Current: 1)),
            ["cd"] = Base(new(LuminousIntensity: 1)),
            ["[pi]"] = new(Metric: false, new UcumMagnitude(Ratio.One, 1, default), Ratio.Zero),
        };

        foreach (var (symbol, metric, value, term) in Definitions)
        {
            if (!UcumParser.TryParse(term, name => Find(atoms, name, out _), out var parsed, out var reason))
            {
                throw new InvalidOperationException($"The definition of {symbol} does not parse: {reason}");
            }

            var magnitude = parsed.Magnitude with { Factor = parsed.Magnitude.Factor * Ratio.Parse(value) };
            atoms.Add(symbol, new UcumAtom(metric, magnitude, Ratio.Zero));
        }

        // The two scales with a zero of their own. UCUM 2.2, sections 3.1 and 4.3 (Cel) and 4.5 ([degF]).
        var kelvin = new UcumMagnitude(Ratio.One, 0, new(Temperature: 1));
        atoms.Add("Cel", new(Metric: true, kelvin, Ratio.Parse("273.15")));
        atoms.Add("[degF]", new(Metric: false, kelvin with { Factor = Ratio.Parse("5") / Ratio.Parse("9") }, Ratio.Parse("459.67")));
        return atoms.ToFrozenDictionary(StringComparer.Ordinal);
    }

    private static UcumAtom Base(Dimension dimension) => new(Metric: true, new UcumMagnitude(Ratio.One, 0, dimension), Ratio.Zero);
}
