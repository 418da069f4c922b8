using Traceability.Domain.Primitives;

namespace Traceability.Domain.ProductUnits;

/// <summary>A person's signature under a decision, and what it was put under.</summary>
/// <param name="Person">Who signed, by code: the first of the two components of the signature; the other, a secret, is never stored.</param>
/// <param name="PrintedName">The signer's name as it was when signing.</param>
/// <param name="Meaning">What the signature says, in words: released, reviewed, approved.</param>
/// <param name="SignedAt">When, by the service's clock.</param>
/// <param name="Units">What was judged: the unit and every unit inside it, each with the number of facts that were known of it.</param>
/// <param name="JudgementHash">SHA-256, in lower-case hexadecimal digits, of what was judged of them.</param>
/// <param name="RecordHash">SHA-256 of the record that was signed: the facts of these units, the judgement's hash, and this signature's own words.</param>
/// <remarks>
/// Modelled on 21 CFR 11.50(a) (a signed record shows the printed name of the signer, the date and time, and the meaning),
/// 11.70 (a signature is linked to its record, so that it can't be moved to another) and 11.200(a)(1) (at least two
/// components, such as an identification code and a password). A model only: whether it meets the rule is for those who apply it.
/// </remarks>
public sealed record Signature(
    PersonCode Person,
    string PrintedName,
    string Meaning,
    DateTimeOffset SignedAt,
    ImmutableArray<SignedUnit> Units,
    string JudgementHash,
    string RecordHash);

/// <summary>One unit of a signed record.</summary>
/// <param name="Unit">The unit.</param>
/// <param name="Version">How many facts were known of it when it was signed.</param>
public sealed record SignedUnit(UnitKey Unit, int Version);
