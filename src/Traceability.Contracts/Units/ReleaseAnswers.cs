using Traceability.Contracts.Facts;

namespace Traceability.Contracts.Units;

/// <summary>A release that a person asks for, with the person's signature.</summary>
public sealed record ReleaseRequest
{
    /// <summary>The id that the sender gives the release. The same request again with the same id is answered as the first time.</summary>
    public required Guid FactId { get; init; }

    /// <summary>Code of the person who signs: the first component of the signature.</summary>
    public required string Person { get; init; }

    /// <summary>The person's signing secret, entered anew for this signature: the second component. It is not stored.</summary>
    public required string Secret { get; init; }

    /// <summary>What the signature means, in words, such as "released".</summary>
    public required string Meaning { get; init; }

    /// <summary>Station at which it is signed, if any.</summary>
    public string? Station { get; init; }
}

/// <summary>The answer to a release that is recorded.</summary>
/// <param name="Unit">The unit.</param>
/// <param name="FactId">Id of the release.</param>
/// <param name="Version">Its place in the unit's stream, from 1.</param>
/// <param name="RecordedAt">When it was recorded.</param>
/// <param name="IsRepeat">Whether it had been recorded before; then this is the first answer again.</param>
/// <param name="Signature">The signature under it.</param>
/// <param name="Findings">The findings that stood when it was recorded.</param>
public sealed record ReleaseReceipt(
    UnitRef Unit, Guid FactId, int Version, DateTimeOffset RecordedAt, bool IsRepeat, SignatureView Signature, IReadOnlyList<Finding> Findings);

/// <summary>Whether a unit may be released, judged at the moment of asking, and who has released it.</summary>
/// <param name="Unit">The unit.</param>
/// <param name="AsOf">The moment of asking.</param>
/// <param name="MayBeReleased">Nothing that the rules ask for is lacking: a person may decide.</param>
/// <param name="Blockers">Everything that is lacking, of the unit and of the units inside it.</param>
/// <param name="Signatures">The signatures under its releases, oldest first.</param>
/// <param name="Completeness">What may be missing from the answer.</param>
public sealed record ReleaseState(
    UnitRef Unit, DateTimeOffset AsOf, bool MayBeReleased, IReadOnlyList<BlockerView> Blockers, IReadOnlyList<SignatureView> Signatures, Completeness Completeness);

/// <summary>Something that a unit lacks for its release.</summary>
/// <param name="Unit">The unit, or a unit inside it.</param>
/// <param name="Code">What is lacking: a stable code.</param>
/// <param name="Step">The step, where it is about one.</param>
/// <param name="Rule">The step, interval, position or kind of finding that it is about; empty if none.</param>
/// <param name="Record">Id of the fact that it rests on; null where it rests on the lack of one.</param>
/// <param name="Detail">What is lacking and what to do.</param>
public sealed record BlockerView(UnitRef Unit, string Code, string? Step, string Rule, Guid? Record, string Detail);

/// <summary>A signature under a release.</summary>
/// <param name="Record">Id of the release.</param>
/// <param name="Person">Code of the signer.</param>
/// <param name="PrintedName">The signer's name when it was signed.</param>
/// <param name="Meaning">What the signature means.</param>
/// <param name="SignedAt">When it was signed.</param>
/// <param name="IsVoided">The release no longer counts.</param>
/// <param name="Units">What was signed: the unit and the units inside it, each with the number of facts that were known of it.</param>
/// <param name="JudgementHash">SHA-256 of what was judged of them.</param>
/// <param name="RecordHash">SHA-256 of the record that was signed.</param>
/// <param name="Matches">Whether the stored facts still give that hash; null where it was not looked at.</param>
public sealed record SignatureView(
    Guid Record,
    string Person,
    string PrintedName,
    string Meaning,
    DateTimeOffset SignedAt,
    bool IsVoided,
    IReadOnlyList<SignedUnitView> Units,
    string JudgementHash,
    string RecordHash,
    bool? Matches);

/// <summary>A unit of a signed record.</summary>
/// <param name="Unit">The unit.</param>
/// <param name="Version">The number of facts that were known of it.</param>
public sealed record SignedUnitView(UnitRef Unit, int Version);
