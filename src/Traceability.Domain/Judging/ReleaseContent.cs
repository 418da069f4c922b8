using System.Globalization;
using System.Security.Cryptography;
using System.Text;
using Traceability.Domain.Primitives;
using Traceability.Domain.ProductUnits;

namespace Traceability.Domain.Judging;

/// <summary>The text that a release's signature is put under, and its hash: lines that anyone can write again from the stored facts.</summary>
/// <remarks>
/// UTF-8, lines ended by a line feed, times in UTC (RFC 3339), hashes in lower-case hexadecimal digits (FIPS 180-4, SHA-256).
/// The signature's own words are part of the text, so that it can't be put under another record (21 CFR 11.70 as the model).
/// </remarks>
public static class ReleaseContent
{
    /// <summary>The hash of what was judged: the attempts and the findings of every unit.</summary>
    public static string JudgementHash(AssembledUnit assembled)
    {
        ArgumentNullException.ThrowIfNull(assembled);
        var text = new StringBuilder("judgement 1\n");
        foreach (var one in All(assembled))
        {
            var judgement = Judge.Unit(one.Unit, one.References);
            text.Append(CultureInfo.InvariantCulture, $"unit {one.Unit.Key} revision {judgement.Status.Revision?.ToString() ?? "-"}\n");
            foreach (var step in judgement.Steps)
            {
                text.Append(CultureInfo.InvariantCulture, $"step {step.Step} {step.Attempt} {step.Record} {(step.Passed ? "passed" : "not-passed")}\n");
            }

            foreach (var finding in judgement.Findings)
            {
                text.Append(CultureInfo.InvariantCulture, $"finding {finding.Kind} {finding.Rule} {finding.Step?.ToString() ?? "-"} {finding.Attempt} {finding.Record}\n");
            }
        }

        return Hash(text);
    }

    /// <summary>The units of a record with their versions, the unit itself first.</summary>
    public static ImmutableArray<SignedUnit> UnitsOf(AssembledUnit assembled)
    {
        ArgumentNullException.ThrowIfNull(assembled);
        return [.. All(assembled).Select(u => new SignedUnit(u.Unit.Key, u.Unit.Version))];
    }

    /// <summary>The hash of the record that is signed.</summary>
    /// <param name="signature">The signature; its own hash is not looked at.</param>
    /// <param name="units">The facts of its units, by unit; each has at least as many as were signed.</param>
    /// <param name="contentHashOf">The hash of a fact's content as it was sent, by the fact's id; null where none is kept.</param>
    /// <returns>Null where a unit or some of the signed facts are missing.</returns>
    public static string? RecordHash(Signature signature, IReadOnlyDictionary<UnitKey, ProductUnit> units, Func<Guid, string?> contentHashOf)
    {
        ArgumentNullException.ThrowIfNull(signature);
        ArgumentNullException.ThrowIfNull(units);
        ArgumentNullException.ThrowIfNull(contentHashOf);
        var text = new StringBuilder("release 1\n");
        foreach (var signed in signature.Units)
        {
            if (!units.TryGetValue(signed.Unit, out var unit) || unit.Version < signed.Version)
            {
                return null;
            }

            text.Append(CultureInfo.InvariantCulture, $"unit {signed.Unit} version {signed.Version}\n");
            foreach (var fact in unit.Facts.Take(signed.Version))
            {
                text.Append(CultureInfo.InvariantCulture, $"fact {fact.Id} {Say.Time(fact.Fact.At)} {contentHashOf(fact.Id) ?? "-"}\n");
            }
        }

        text.Append(CultureInfo.InvariantCulture, $"judgement {signature.JudgementHash}\n");
        text.Append(CultureInfo.InvariantCulture, $"signed {signature.Person} {Say.Time(signature.SignedAt)}\n");
        text.Append(CultureInfo.InvariantCulture, $"name {OneLine(signature.PrintedName)}\nmeaning {OneLine(signature.Meaning)}\n");
        return Hash(text);
    }

    private static IEnumerable<AssembledUnit> All(AssembledUnit assembled) => assembled.Inside.SelectMany(All).Prepend(assembled);

    // A line feed in a name would let one text stand for another.
    private static string OneLine(string text) => text.Replace("\\", @"\\", StringComparison.Ordinal).Replace("\n", @"\n", StringComparison.Ordinal);

    private static string Hash(StringBuilder text) => Convert.ToHexStringLower(SHA256.HashData(Encoding.UTF8.GetBytes(text.ToString())));
}
