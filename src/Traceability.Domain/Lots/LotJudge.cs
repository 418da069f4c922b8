using Traceability.Domain.Primitives;

namespace Traceability.Domain.Lots;

/// <summary>What an inspection says of a lot; a greater one is worse.</summary>
public enum LotInspection
{
    /// <summary>All that is in the lot was accepted.</summary>
    Accepted,

    /// <summary>Of something in it, no inspection is recorded.</summary>
    Missing,

    /// <summary>Something in it was rejected.</summary>
    Rejected,
}

/// <summary>Where a lot stands.</summary>
public enum LotState
{
    /// <summary>It came in, or was made, and is not released.</summary>
    Received,

    /// <summary>Its item asks for an inspection, and none has accepted it yet.</summary>
    AwaitingInspection,

    /// <summary>It may be used.</summary>
    Released,

    /// <summary>It may not be used, until it is released again.</summary>
    Quarantined,

    /// <summary>An inspection rejected it.</summary>
    Rejected,

    /// <summary>Nothing of it is left.</summary>
    Emptied,
}

/// <summary>Judges a lot together with the lots that it was made of, at any depth.</summary>
/// <remarks>
/// <para>
/// A lot that was split off or merged has what its sources had when the material was taken: the earliest end of shelf life, their
/// release, their inspection. What is said of a source later reaches it where it is bad news about the material itself (a
/// quarantine, a rejection, an expiry set anew) and not where it is good news about what stayed behind (a release, a
/// re-certification). What is said of the lot itself after that counts more. The rules are common practice, without a source.
/// </para>
/// <para>
/// Total: a source that isn't known has no end of shelf life, is not released and not inspected; where lots run in a circle, what
/// is being judged adds nothing to itself; deeper than <see cref="DepthMax"/> nothing is taken as good. One judge for one question.
/// </para>
/// </remarks>
/// <param name="find">Finds a source; null if it isn't known.</param>
public sealed class LotJudge(Func<LotKey, Lot?> find)
{
    /// <summary>How deep sources are followed.</summary>
    public const int DepthMax = 500;

    private readonly Dictionary<Question, DateTimeOffset?> _expiries = [];
    private readonly Dictionary<Question, bool> _releases = [];
    private readonly Dictionary<Question, DateTimeOffset?> _suspicions = [];
    private readonly Dictionary<Question, LotInspection> _inspections = [];
    private int _depth;

    // What is asked of a lot: as known at a time, of the material that was in it by another one.
    private readonly record struct Question(LotKey Lot, DateTimeOffset At, DateTimeOffset InBy);

    /// <summary>The end of shelf life that counted at a time; null if none is known.</summary>
    public DateTimeOffset? ExpiryAt(Lot lot, DateTimeOffset at)
    {
        ArgumentNullException.ThrowIfNull(lot);
        return lot.HasSources ? Once(_expiries, lot, at, at, null, DateTimeOffset.MinValue, Expiry) : lot.ExpiryAt(at);
    }

    /// <summary>Whether the lot was released at a time, and no lot that it was made of is under suspicion.</summary>
    public bool IsReleasedAt(Lot lot, DateTimeOffset at)
    {
        ArgumentNullException.ThrowIfNull(lot);
        return lot.HasSources
            ? Once(_releases, lot, at, at, meanwhile: true, tooDeep: false, Released) && SuspectedAt(lot, at) is null
            : lot.IsReleasedAt(at);
    }

    /// <summary>Since when the lot, or one that it was made of, is in quarantine or rejected; null if none is.</summary>
    public DateTimeOffset? SuspectedAt(Lot lot, DateTimeOffset at)
    {
        ArgumentNullException.ThrowIfNull(lot);
        return SuspectedAt(lot, at, at);
    }

    /// <summary>What inspections said by that time.</summary>
    public LotInspection InspectionAt(Lot lot, DateTimeOffset at)
    {
        ArgumentNullException.ThrowIfNull(lot);
        return InspectionAt(lot, at, at);
    }

    /// <summary>The first lot, of those that went into mixes that the lot is of, whose item asks for an inspection that none had accepted; null: none.</summary>
    /// <param name="lot">The lot.</param>
    /// <param name="at">When.</param>
    /// <param name="asks">Whether an item asks for an inspection.</param>
    public LotKey? UninspectedPart(Lot lot, DateTimeOffset at, Func<ItemNumber, bool> asks)
    {
        ArgumentNullException.ThrowIfNull(lot);
        ArgumentNullException.ThrowIfNull(asks);
        foreach (var (_, mixed) in LotMixes.Of(lot, at, find))
        {
            foreach (var part in Lot.SourcesOf(mixed))
            {
                if (asks(part.Lot.Item) && (find(part.Lot) is not { } known || InspectionAt(known, at) == LotInspection.Missing))
                {
                    return part.Lot;
                }
            }
        }

        return null;
    }

    /// <summary>Where the lot stands.</summary>
    /// <param name="lot">The lot.</param>
    /// <param name="needsInspection">Whether its item asks for an inspection.</param>
    /// <param name="at">When.</param>
    public LotState StateAt(Lot lot, bool needsInspection, DateTimeOffset at)
    {
        ArgumentNullException.ThrowIfNull(lot);
        if (IsEmptied(lot, at))
        {
            return LotState.Emptied;
        }

        var isReleased = IsReleasedAt(lot, at);
        var inspection = needsInspection || !isReleased ? InspectionAt(lot, at) : LotInspection.Accepted;
        return inspection == LotInspection.Rejected && (needsInspection || !isReleased) ? LotState.Rejected
            : SuspectedAt(lot, at) is not null ? LotState.Quarantined
            : needsInspection && inspection == LotInspection.Missing ? LotState.AwaitingInspection
            : isReleased ? LotState.Released
            : LotState.Received;
    }

    private DateTimeOffset? SuspectedAt(Lot lot, DateTimeOffset at, DateTimeOffset inBy) => Once(_suspicions, lot, at, inBy, null, at, Suspicion);

    private LotInspection InspectionAt(Lot lot, DateTimeOffset at, DateTimeOffset inBy) =>
        Once(_inspections, lot, at, inBy, LotInspection.Accepted, LotInspection.Missing, Inspection);

    private static bool IsEmptied(Lot lot, DateTimeOffset at)
    {
        var isEmptied = false;
        foreach (var fact in lot.Effective)
        {
            isEmptied = fact.IsVoided || fact.At > at ? isEmptied : fact.Fact switch
            {
                LotEmptied => true,
                LotReceived or ILotInflow => false,
                _ => isEmptied,
            };
        }

        return isEmptied;
    }

    private DateTimeOffset? Expiry(Lot lot, DateTimeOffset at, DateTimeOffset _)
    {
        DateTimeOffset? expiry = null;
        var first = 0;
        for (var i = lot.Effective.Length - 1; i >= 0; i--)
        {
            if (lot.Effective[i] is { IsVoided: false, Fact: LotExpirySet set })
            {
                (expiry, first) = (set.ExpiresAt, i + 1);
                break;
            }
        }

        // Whatever brought it into being counts for a use before it, too: the lot was there then, as the use shows.
        var origin = lot.Origin;
        for (var i = first; i < lot.Effective.Length; i++)
        {
            var fact = lot.Effective[i];
            if (fact.IsVoided || (fact.At > at && fact != origin))
            {
                continue;
            }

            switch (fact.Fact)
            {
                case LotReceived received when ReferenceEquals(received, lot.Received):
                    expiry = Earlier(expiry, received.ExpiresAt);
                    break;
                case LotRecertified recertified:
                    expiry = recertified.ExpiresAt;
                    break;
                case ILotInflow inflow:
                    foreach (var source in Lot.SourcesOf(inflow))
                    {
                        expiry = find(source.Lot) is { } lotOf ? Earlier(expiry, ExpiryAt(lotOf, fact.At)) : expiry;
                    }

                    break;
            }
        }

        return expiry;
    }

    private bool Released(Lot lot, DateTimeOffset at, DateTimeOffset _)
    {
        var isReleased = false;
        var origin = lot.Origin;
        foreach (var fact in lot.Effective)
        {
            if (fact.At > at)
            {
                break;
            }

            isReleased = fact.IsVoided ? isReleased : fact.Fact switch
            {
                LotReceived r => r.IsReleased && (isReleased || fact == origin),
                LotReleased => true,
                LotQuarantined or LotInspected { Accepted: false } => false,
                ILotInflow inflow => (isReleased || fact == origin) && Lot.SourcesOf(inflow).All(s => find(s.Lot) is { } source && IsReleasedAt(source, fact.At)),
                _ => isReleased,
            };
        }

        return isReleased;
    }

    private DateTimeOffset? Suspicion(Lot lot, DateTimeOffset at, DateTimeOffset inBy)
    {
        DateTimeOffset? held = null;
        DateTimeOffset? rejected = null;
        var releasedAt = DateTimeOffset.MinValue;
        foreach (var fact in lot.Effective)
        {
            if (fact.At > at)
            {
                break;
            }

            switch (fact)
            {
                case { IsVoided: false, Fact: LotQuarantined }:
                    held = fact.At;
                    break;
                case { IsVoided: false, Fact: LotInspected inspected }:
                    rejected = inspected.Accepted ? null : fact.At;
                    break;
                case { IsVoided: false, Fact: LotReleased }:
                    (held, rejected, releasedAt) = (null, null, fact.At);
                    break;
            }
        }

        var since = Later(held, rejected);
        return lot.HasSources ? Later(since, SuspicionOfSources(lot, at, inBy, releasedAt)) : since;
    }

    // What was under suspicion when it was taken makes the lot unreleased at that time; here is what was found later.
    private DateTimeOffset? SuspicionOfSources(Lot lot, DateTimeOffset at, DateTimeOffset inBy, DateTimeOffset releasedAt)
    {
        DateTimeOffset? since = null;
        foreach (var fact in lot.Standing().Where(f => f.Fact is ILotInflow && f.At <= inBy))
        {
            foreach (var source in Lot.SourcesOf((ILotInflow)fact.Fact))
            {
                if (find(source.Lot) is { } lotOf && SuspectedAt(lotOf, at, fact.At) is { } found && found > releasedAt && (found > fact.At || releasedAt < fact.At))
                {
                    since = Later(since, found);
                }
            }
        }

        return since;
    }

    private LotInspection Inspection(Lot lot, DateTimeOffset at, DateTimeOffset inBy)
    {
        var inspection = LotInspection.Missing;
        var origin = lot.Origin;
        foreach (var fact in lot.Effective)
        {
            if (fact.IsVoided || (fact.At > at && fact != origin))
            {
                continue;
            }

            switch (fact.Fact)
            {
                case LotInspected inspected:
                    inspection = inspected.Accepted ? LotInspection.Accepted : LotInspection.Rejected;
                    break;
                case LotReceived when fact != origin:
                    // Something was merged in before the receipt: what was received then is inspected by itself.
                    inspection = Worse(inspection, LotInspection.Missing);
                    break;
                case LotMixed mixed when fact.At <= inBy || fact == origin:
                    // Parts of other items are inspected by their own rules; what was found bad of one is bad in the mix.
                    inspection = Lot.SourcesOf(mixed).Any(s => find(s.Lot) is { } part && InspectionAt(part, at, fact.At) == LotInspection.Rejected) ? LotInspection.Rejected : LotInspection.Missing;
                    break;
                case ILotInflow inflow when fact.At <= inBy || fact == origin:
                    var before = fact == origin ? LotInspection.Accepted : inspection;
                    inspection = Lot.SourcesOf(inflow).Aggregate(before, (worst, s) => Worse(worst, find(s.Lot) is { } source ? InspectionAt(source, at, fact.At) : LotInspection.Missing));
                    break;
            }
        }

        return inspection;
    }

    private static LotInspection Worse(LotInspection a, LotInspection b) => a > b ? a : b;

    private static DateTimeOffset? Earlier(DateTimeOffset? a, DateTimeOffset? b) => a is null || b < a ? b ?? a : a;

    private static DateTimeOffset? Later(DateTimeOffset? a, DateTimeOffset? b) => a is null || b > a ? b ?? a : a;

    private T Once<T>(
        Dictionary<Question, T> known, Lot lot, DateTimeOffset at, DateTimeOffset inBy, T meanwhile, T tooDeep, Func<Lot, DateTimeOffset, DateTimeOffset, T> judge)
    {
        var question = new Question(lot.Key, at, inBy);
        if (known.TryGetValue(question, out var found))
        {
            return found;
        }

        if (_depth >= DepthMax)
        {
            return tooDeep;
        }

        known[question] = meanwhile;
        _depth++;
        var judged = judge(lot, at, inBy);
        _depth--;
        known[question] = judged;
        return judged;
    }
}
