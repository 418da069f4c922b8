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
        // By records that contradict each other, a unit may be inside twice.
        return [.. All(assembled).DistinctBy(u => u.Unit.Key).Select(u => new SignedUnit(u.Unit.Key, u.Unit.Version))];
    }

    /// <summary>The hash of the record that is signed.</summary>
    /// <param name="signature">The signature; its own hash is not looked at.</param>
    /// <param name="facts">The stored facts of its units, by unit, in order of arrival; each has at least as many as were signed.</param>
    /// <returns>Null where a unit or some of the signed facts are missing.</returns>
    public static string? RecordHash(Signature signature, IReadOnlyDictionary<UnitKey, ImmutableArray<SignedFact>> facts)
    {
        ArgumentNullException.ThrowIfNull(signature);
        ArgumentNullException.ThrowIfNull(facts);
        var text = new StringBuilder("release 1\n");
        foreach (var signed in signature.Units)
        {
            if (!facts.TryGetValue(signed.Unit, out var stored) || stored.Length < signed.Version)
            {
                return null;
            }

            text.Append(CultureInfo.InvariantCulture, $"unit {signed.Unit} version {signed.Version}\n");
            foreach (var fact in stored.Take(signed.Version))
            {
                text.Append(CultureInfo.InvariantCulture, $"fact {fact.Id} {fact.StoredName} {fact.ContentHash}\n");
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

/// <summary>A stored fact as a signed record names it.</summary>
/// <param name="Id">Its id.</param>
/// <param name="StoredName">The name under which it is stored.</param>
/// <param name="ContentHash">SHA-256 of its stored content in one form of JSON, in lower-case hexadecimal digits.</param>
public sealed record SignedFact(Guid Id, string StoredName, string ContentHash);
