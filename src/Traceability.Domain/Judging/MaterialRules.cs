using Traceability.Domain.Facts;
using Traceability.Domain.Lots;
using Traceability.Domain.Primitives;
using Traceability.Domain.ProductUnits;
using Traceability.Domain.Routings;

namespace Traceability.Domain.Judging;

/// <summary>Material: the right item, a lot that is released and in date, a container within its life, the right amount.</summary>
internal static class MaterialRules
{
    public static void Judge(UnitHistory history, Attempt attempt, FindingSink sink)
    {
        var requirements = attempt.Step!.Materials.OrEmpty();
        var uses = attempt.Record.Materials.OrEmpty();
        if (requirements.IsEmpty && uses.IsEmpty)
        {
            return;
        }

        var serves = attempt.Serves(history);
        Span<bool> settled = requirements.Length <= 64 ? stackalloc bool[requirements.Length] : new bool[requirements.Length];
        for (var u = 0; u < uses.Length; u++)
        {
            if (serves[u] >= 0)
            {
                settled[serves[u]] |= !LotsOf(uses[u]).IsEmpty;
                JudgeUse(history, attempt, requirements[serves[u]], uses[u], sink);
            }
        }

        for (var u = 0; u < uses.Length; u++)
        {
            if (serves[u] < 0)
            {
                NotAccepted(history, attempt, requirements, uses[u], settled, sink);
            }
        }

        for (var r = 0; r < requirements.Length; r++)
        {
            if (requirements[r].Tracing != Tracing.None && history.Applies(requirements[r].AppliesTo))
            {
                attempt.Opportunities++;
                JudgeRequirement(attempt, requirements[r], r, serves, settled[r], sink);
            }
        }
    }

    /// <summary>The lots that the record names, each once.</summary>
    public static ImmutableArray<LotNumber> LotsOf(MaterialUse use)
    {
        var lots = use.Lots.OrEmpty();
        return use.Item == default ? []
            : lots.Length == 0 || (lots.Length == 1 && lots[0] != default) ? lots
            : [.. lots.Where(l => l != default).Distinct()];
    }

    // The wrong item is in the place of a requirement that nothing else fills; where all are filled, it is one too many.
    private static void NotAccepted(
        UnitHistory history, Attempt attempt, ImmutableArray<MaterialRequirement> requirements, MaterialUse use, Span<bool> settled, FindingSink sink)
    {
        var r = MaterialAssignment.IndexOfNamed(requirements, use);
        for (var i = 0; r < 0 && i < requirements.Length; i++)
        {
            r = !settled[i] && requirements[i].Tracing != Tracing.None && history.Applies(requirements[i].AppliesTo) ? i : -1;
        }

        if (r < 0 || !history.Applies(requirements[r].AppliesTo))
        {
            sink.Add(attempt, FindingKinds.MaterialNotRequired, r < 0 ? string.Empty : requirements[r].Code.ToString(), null, $"Step {attempt.Record.Step} of this unit takes no {use.Item}.", ("item", use.Item.ToString()));
            return;
        }

        settled[r] = true;
        sink.Add(
            attempt,
            FindingKinds.MaterialWrongItem,
            requirements[r].Code.ToString(),
            requirements[r].Policy,
            $"{use.Item} is recorded, but {requirements[r].Code} takes {requirements[r].Item} or an approved alternative.",
            ("item", use.Item.ToString()),
            ("required", requirements[r].Item.ToString()));
    }

    private static void JudgeRequirement(
        Attempt attempt, MaterialRequirement requirement, int r, int[] serves, bool isSettled, FindingSink sink)
    {
        if (!isSettled)
        {
            sink.Add(attempt, FindingKinds.MaterialNotRecorded, requirement.Code.ToString(), requirement.Policy, $"No lot of {requirement.Item} is recorded for {requirement.Code}.", ("required", requirement.Item.ToString()));
        }

        if ((requirement.QuantityMin is not null || requirement.QuantityMax is not null) && serves.AsSpan().Contains(r))
        {
            JudgeQuantity(attempt, requirement, r, serves, sink);
        }
    }

    private static void JudgeUse(UnitHistory history, Attempt attempt, MaterialRequirement requirement, MaterialUse use, FindingSink sink)
    {
        var lots = LotsOf(use);
        var rule = requirement.Code.ToString();
        if (lots.IsEmpty)
        {
            return;
        }

        if (lots.Length > 1)
        {
            sink.Add(attempt, FindingKinds.LotAmbiguous, rule, requirement.Policy, $"One of {lots.Length} lots of {use.Item} was used; which one is not recorded.", ("lots", string.Join(", ", lots)));
        }

        if (use.Container is null && requirement.Tracing == Tracing.Container)
        {
            sink.Add(attempt, FindingKinds.ContainerNotRecorded, rule, requirement.Policy, $"The lot of {use.Item} is recorded, its container is not.", ("lot", string.Join(", ", lots)));
        }

        // Of several lots one was used: only what holds for all of them is known to hold for it.
        JudgeLots(history, attempt, requirement, use, lots, sink);
        MixRules.Judge(history, attempt, requirement, use, lots, sink);
    }

    private static void JudgeLots(
        UnitHistory history, Attempt attempt, MaterialRequirement requirement, MaterialUse use, ImmutableArray<LotNumber> lots, FindingSink sink)
    {
        int unknown = 0, held = 0, expired = 0, uninspected = 0;
        DateTimeOffset? expiresAt = null;
        var needsInspection = history.References.NeedsInspection(use.Item);
        foreach (var number in lots)
        {
            if (history.References.FindLot(new(use.Item, number)) is not { } lot)
            {
                unknown++;
                continue;
            }

            // What a lot was made of counts, too; most lots were received, and tell all themselves.
            var judge = lot.HasSources || needsInspection ? new LotJudge(history.References.FindLot) : null;
            var isHeld = !(judge?.IsReleasedAt(lot, attempt.At) ?? lot.IsReleasedAt(attempt.At));
            held += isHeld ? 1 : 0;
            uninspected += (needsInspection && IsUninspected(judge!.InspectionAt(lot, attempt.At), isHeld))
                || judge?.UninspectedPart(lot, attempt.At, history.References.NeedsInspection) is not null ? 1 : 0;
            var expiry = judge is null ? lot.ExpiryAt(attempt.At) : judge.ExpiryAt(lot, attempt.At);
            expired += expiry <= attempt.At ? 1 : 0;
            expiresAt = expiry;
            if (use.Container is { } container && lots.Length == 1)
            {
                JudgeContainer(history, attempt, requirement, use, lot, container, sink);
            }
        }

        if (uninspected == lots.Length)
        {
            sink.Add(attempt, FindingKinds.LotNotInspected, requirement.Code.ToString(), requirement.Policy, $"No inspection had accepted lot {string.Join(", ", lots)} of {use.Item}, or a lot that it was mixed of, when it was used.", ("lot", string.Join(", ", lots)), ("used", Say.Time(attempt.At)));
        }

        var rule = requirement.Code.ToString();
        if (unknown == lots.Length)
        {
            sink.Add(attempt, FindingKinds.LotUnknown, rule, requirement.Policy, $"Lot {string.Join(", ", lots)} of {use.Item} is not known here.", ("lot", string.Join(", ", lots)));
        }

        if (held == lots.Length)
        {
            sink.Add(attempt, FindingKinds.LotNotReleased, rule, requirement.Policy, $"Lot {string.Join(", ", lots)} of {use.Item} was not released when it was used.", ("lot", string.Join(", ", lots)), ("used", Say.Time(attempt.At)));
        }

        if (expired == lots.Length)
        {
            sink.Add(
                attempt,
                FindingKinds.LotExpired,
                rule,
                requirement.Policy,
                $"Lot {string.Join(", ", lots)} of {use.Item} had expired when it was used.",
                ("lot", string.Join(", ", lots)),
                ("expires", Say.Time(expiresAt!.Value)),
                ("used", Say.Time(attempt.At)));
        }
    }

    // A rejected lot is not released: that is said already.
    private static bool IsUninspected(LotInspection inspection, bool isHeld) =>
        inspection == LotInspection.Missing || (inspection == LotInspection.Rejected && !isHeld);

    private static void JudgeContainer(
        UnitHistory history, Attempt attempt, MaterialRequirement requirement, MaterialUse use, Lot lot, ContainerNumber container, FindingSink sink)
    {
        var life = history.References.FindItem(use.Item)?.LifeAfterOpening;
        if (life is null && requirement.Tracing != Tracing.Container)
        {
            return;
        }

        var opening = lot.Opening(container);
        if (opening is null || opening.At > attempt.At)
        {
            sink.Add(
                attempt,
                FindingKinds.ContainerNotOpened,
                requirement.Code.ToString(),
                requirement.Policy,
                $"No opening of container {container} of lot {lot.Key.Lot} is recorded by the time of its use.",
                ("container", container.ToString()),
                ("used", Say.Time(attempt.At)));
        }
        else if (MixRules.JudgeOpened(history, attempt, requirement, lot, container, opening, sink))
        {
            return;
        }
        else if (life is { } span && attempt.At >= Instant.Shift(opening.At, span))
        {
            sink.Add(
                attempt,
                FindingKinds.ContainerPastLife,
                requirement.Code.ToString(),
                requirement.Policy,
                $"Container {container} of lot {lot.Key.Lot} was used after its life of {Say.Span(span)} from opening.",
                ("container", container.ToString()),
                ("opened", Say.Time(opening.At)),
                ("used", Say.Time(attempt.At)));
        }
    }

    private static void JudgeQuantity(Attempt attempt, MaterialRequirement requirement, int r, int[] serves, FindingSink sink)
    {
        var rule = requirement.Code.ToString();
        var limit = requirement.QuantityMin ?? requirement.QuantityMax!.Value;
        var total = 0m;
        for (var u = 0; u < serves.Length; u++)
        {
            if (serves[u] != r)
            {
                continue;
            }

            if (attempt.Record.Materials[u].Quantity is not { } quantity)
            {
                sink.Add(attempt, FindingKinds.QuantityNotRecorded, rule, requirement.Policy, $"The quantity of {attempt.Record.Materials[u].Item} is not recorded.");
                return;
            }

            if (!Values.TryConvert(quantity.Value, quantity.Unit, limit.Unit, out var value) || !Values.TryAdd(total, value, out total))
            {
                sink.Add(attempt, FindingKinds.ValueWrongDimension, rule, requirement.Policy, $"{quantity} can't be compared with a limit in {limit.Unit}.", ("recorded", quantity.ToString()));
                return;
            }
        }

        if (IsBeyond(total, limit.Unit, requirement.QuantityMin, below: true) || IsBeyond(total, limit.Unit, requirement.QuantityMax, below: false))
        {
            sink.Add(
                attempt,
                FindingKinds.QuantityOutOfLimits,
                rule,
                requirement.Policy,
                $"{Say.Value(total, limit.Unit)} of {requirement.Item} is recorded; the limits are {requirement.QuantityMin?.ToString() ?? "none"} and {requirement.QuantityMax?.ToString() ?? "none"}.",
                ("recorded", Say.Value(total, limit.Unit)),
                ("minimum", requirement.QuantityMin?.ToString() ?? string.Empty),
                ("maximum", requirement.QuantityMax?.ToString() ?? string.Empty));
        }
    }

    private static bool IsBeyond(decimal total, string unit, EnteredQuantity? limit, bool below) =>
        limit is { } set
        && Values.TryCompare(total, unit, set.Value, set.Unit, out var order)
        && (below ? order < 0 : order > 0);
}
