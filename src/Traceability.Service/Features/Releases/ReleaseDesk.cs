using System.Globalization;
using Traceability.Domain.Judging;
using Traceability.Domain.Primitives;
using Traceability.Domain.ProductUnits;
using Traceability.Service.Ingest;
using Traceability.Service.Security;
using Traceability.Service.Storage;

namespace Traceability.Service.Features.Releases;

/// <summary>What came of a release that was asked for.</summary>
internal abstract record ReleaseAnswer
{
    /// <summary>It is recorded.</summary>
    /// <param name="Fact">The release as it is stored.</param>
    /// <param name="Receipt">Where it is stored.</param>
    public sealed record Released(UnitReleased Fact, IngestAnswer.Recorded Receipt) : ReleaseAnswer;

    /// <summary>It is refused; nothing is recorded.</summary>
    /// <param name="Reason">Why.</param>
    /// <param name="Blockers">What the unit lacks, where that is why.</param>
    public sealed record Refused(Refusal Reason, ImmutableArray<ReleaseBlocker> Blockers) : ReleaseAnswer;

    /// <summary>It may or may not be recorded: ask again, with the same id.</summary>
    /// <param name="Later">When, and what is in the way.</param>
    public sealed record Unavailable(IngestAnswer.Unavailable Later) : ReleaseAnswer;
}

/// <summary>Releases units: judges, asks for the signature, records both in one fact.</summary>
internal sealed class ReleaseDesk(UnitReader units, SignedRecords records, SigningSecrets secrets, IIngest ingest, TimeProvider clock)
{
    /// <summary>Decides and records.</summary>
    public async Task<ReleaseAnswer> ReleaseAsync(UnitKey unit, AskedRelease asked, Caller caller, CancellationToken cancellation)
    {
        var now = GroupPlan.Moment(clock);
        var fact = new UnitReleased(unit) { OccurredAt = now, Person = asked.Person, Station = asked.Station, SentBy = caller.Name };
        if (await units.FindTreeAsync(unit, [fact], insideOf: null, cancellation) is not { } tree)
        {
            return Refuse(Refusal.At("unit-unknown", RefusalKind.Unknown, "serial", $"Unit {unit} is not known. Scan it again, or open it first."));
        }

        if (tree.Judged.References.FindPerson(asked.Person)?.Definition is not { } person)
        {
            return Refuse(Refusal.At("person-unknown", RefusalKind.Unknown, "/person", $"Person {asked.Person} is not known. Define the person first."));
        }

        // A repeat is told from its first time by the id, and not judged again: by now it is released.
        var assembled = tree.Assembled;
        if (tree.Judged.Unit.Find(asked.Id) is null && Release.Ask(assembled, now) is { IsEmpty: false } blockers)
        {
            return new ReleaseAnswer.Refused(Blocked(unit, blockers), blockers);
        }

        if (await SignAsync(asked, cancellation) is { } notSigned)
        {
            return Refuse(notSigned);
        }

        var signature = new Signature(
            asked.Person, person.DisplayName, asked.Meaning, now, ReleaseContent.UnitsOf(assembled), ReleaseContent.JudgementHash(assembled), string.Empty);
        signature = await records.SealAsync(signature, cancellation);
        return await ingest.SubmitAsync(new(asked.Id, asked.ContentHash(unit), fact with { Signature = signature }), cancellation) switch
        {
            IngestAnswer.Recorded { IsRepeat: true } repeat => new ReleaseAnswer.Released(await StoredAsync(unit, asked.Id, cancellation), repeat),
            IngestAnswer.Recorded recorded => new ReleaseAnswer.Released((UnitReleased)recorded.Posted.Fact, recorded),
            IngestAnswer.Refused refused => Refuse(refused.Reason),
            IngestAnswer.Unavailable later => new ReleaseAnswer.Unavailable(later),
            _ => throw new System.Diagnostics.UnreachableException(),
        };
    }

    private static ReleaseAnswer.Refused Refuse(Refusal reason) => new(reason, []);

    private static Refusal Blocked(UnitKey unit, ImmutableArray<ReleaseBlocker> blockers) => new(
        "release-blocked",
        RefusalKind.Contradiction,
        string.Create(CultureInfo.InvariantCulture, $"{unit} can't be released: {blockers.Length} {(blockers.Length == 1 ? "thing is" : "things are")} in the way, each listed with what to do."),
        [.. blockers.Select(b => new Fault(string.Empty, $"{b.Unit}, {b.Code}: {b.Detail}"))]);

    private async Task<UnitReleased> StoredAsync(UnitKey unit, Guid id, CancellationToken cancellation) =>
        (UnitReleased)(await units.FindAsync(unit, [], cancellation))!.Unit.Find(id)!.Fact;

    private async Task<Refusal?> SignAsync(AskedRelease asked, CancellationToken cancellation) =>
        await secrets.CheckAsync(asked.Person, asked.Secret, cancellation) switch
        {
            SigningSecrets.Outcome.Right => null,
            SigningSecrets.Outcome.Wrong => Refusal.At("signing-secret-wrong", RefusalKind.Unauthorised, "/secret", "This is not the signer's secret. The attempt is counted; too many lock the signature for a while."),
            SigningSecrets.Outcome.NotSet => Refusal.At("signing-secret-not-set", RefusalKind.Unauthorised, "/person", $"{asked.Person} has no secret to sign with. Quality or an administrator sets one."),
            SigningSecrets.Outcome.Locked => Refusal.At("signing-locked", RefusalKind.Unauthorised, "/person", $"There were too many wrong secrets for {asked.Person}, so none is looked at now. Wait, or have a new secret set."),
            _ => throw new System.Diagnostics.UnreachableException(),
        };
}
