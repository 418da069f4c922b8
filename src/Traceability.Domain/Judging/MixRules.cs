using Traceability.Domain.Facts;
using Traceability.Domain.Items;
using Traceability.Domain.Lots;
using Traceability.Domain.Primitives;
using Traceability.Domain.ProductUnits;
using Traceability.Domain.Routings;

namespace Traceability.Domain.Judging;

/// <summary>Judges the mixes and opened containers that a record used.</summary>
internal static class MixRules
{
    private const string PotLifeName = "pot life";
    private const string OpenedLifeName = "life after opening";

    /// <summary>Judges a use of lots of an item that is mixed here, or has a pot life.</summary>
    /// <param name="history">The unit.</param>
    /// <param name="attempt">The attempt that used it.</param>
    /// <param name="requirement">The requirement that it serves.</param>
    /// <param name="use">The use.</param>
    /// <param name="lots">The lots that are named; of several, one was used.</param>
    /// <param name="sink">Where findings go.</param>
    public static void Judge(UnitHistory history, Attempt attempt, MaterialRequirement requirement, MaterialUse use, ImmutableArray<LotNumber> lots, FindingSink sink)
    {
        if (history.References.FindItem(use.Item) is not { } item || item is { Mix: null, PotLife: null })
        {
            return;
        }

        LifeFound?[] worst = new LifeFound?[lots.Length];
        for (var i = 0; i < lots.Length; i++)
        {
            if (history.References.FindLot(new(use.Item, lots[i])) is not { } lot)
            {
                return;
            }

            var mixes = LotMixes.Of(lot, attempt.At, history.References.FindLot);
            worst[i] = item.PotLife is null ? null : Worst(history, attempt, item, lot, mixes);
            if (lots.Length == 1 && item.Mix is { } declared)
            {
                JudgeParts(attempt, requirement, declared, lot, mixes, sink);
            }
        }

        // Of several lots one was used: only what holds for all of them is known to hold for it.
        if (item.PotLife is not null && Array.TrueForAll(worst, w => w is not null))
        {
            var least = Array.Find(worst, w => w!.Kind == FindingKinds.PotLifeUndetermined) ?? worst[0]!;
            sink.Add(attempt, least.Kind, requirement.Code.ToString(), requirement.Policy, least.Message, least.Evidence);
        }
    }

    /// <summary>Judges a container's life by temperature; false: none is declared, so the clock judges.</summary>
    public static bool JudgeOpened(UnitHistory history, Attempt attempt, MaterialRequirement requirement, Lot lot, ContainerNumber container, EffectiveFact opening, FindingSink sink)
    {
        if (OpenedTerm(history, lot.Key.Item, opening) is not { Table: not null } term)
        {
            return false;
        }

        var judged = LifeRules.Judge(history, term, Milestones.Of(opening), new(attempt.At, attempt.Uncertainty, attempt.Id));
        if (judged.Verdict != IntervalVerdict.Kept)
        {
            var isPast = judged.Verdict == IntervalVerdict.TooLong;
            sink.Add(
                attempt,
                isPast ? FindingKinds.ContainerPastLife : FindingKinds.ContainerLifeUndetermined,
                requirement.Code.ToString(),
                requirement.Policy,
                $"Container {container} of lot {lot.Key.Lot} was used {Say.Span(attempt.At - opening.At)} after it was opened, {(isPast ? "beyond" : "not certain to be within")} its {judged.Limit}.{judged.Said}",
                [("container", container.ToString()), ("opened", Say.Time(opening.At)), ("used", Say.Time(attempt.At)), .. judged.Evidence]);
        }

        return true;
    }

    /// <summary>Until when what is offered may be used, by its pot life and its life after opening.</summary>
    public static ImmutableArray<MaterialLife> Lives(UnitHistory history, Attempt attempt)
    {
        ImmutableArray<MaterialLife>.Builder? lives = null;
        foreach (var use in attempt.Record.Materials.OrEmpty())
        {
            if (history.References.FindItem(use.Item) is not { } item || item is { PotLife: null, LifeAfterOpening: null })
            {
                continue;
            }

            foreach (var number in MaterialRules.LotsOf(use))
            {
                if (history.References.FindLot(new(use.Item, number)) is not { } lot)
                {
                    continue;
                }

                if (item.PotLife is not null)
                {
                    foreach (var (fact, _) in LotMixes.Of(lot, attempt.At, history.References.FindLot))
                    {
                        Add(PotTerm(item, fact), fact, lot.Key, null);
                    }
                }

                if (use.Container is { } container && lot.Opening(container) is { } opening && OpenedTerm(history, use.Item, opening) is { } opened)
                {
                    Add(opened, opening, lot.Key, container);
                }
            }
        }

        return lives?.ToImmutable() ?? [];

        void Add(LifeTerm term, EffectiveFact started, LotKey lot, ContainerNumber? container)
        {
            var forecast = LifeRules.Forecast(history, term, Milestones.Of(started), attempt.At);
            (lives ??= ImmutableArray.CreateBuilder<MaterialLife>()).Add(new(term.Name, lot, container, started.At.ToUniversalTime(), forecast.ReadyAt, forecast.Assumption));
        }
    }

    private static LifeTerm PotTerm(ItemDefined item, EffectiveFact mixed) => new(PotLifeName, item.PotLife!.Value, item.PotLifeByTemperature, mixed.Fact.Station);

    private static LifeTerm? OpenedTerm(UnitHistory history, ItemNumber number, EffectiveFact opening) =>
        history.References.FindItem(number) is { LifeAfterOpening: { } life } item ? new(OpenedLifeName, life, item.OpenedLifeByTemperature, opening.Fact.Station) : null;

    // The mix that is the furthest beyond its pot life; null: all were within it.
    private static LifeFound? Worst(UnitHistory history, Attempt attempt, ItemDefined item, Lot lot, ImmutableArray<(EffectiveFact Fact, LotMixed Mixed)> mixes)
    {
        if (mixes.IsEmpty)
        {
            return new(
                FindingKinds.PotLifeUndetermined,
                $"When lot {lot.Key.Lot} of {lot.Key.Item} was mixed is not recorded, so its pot life can't be judged.",
                [("lot", lot.Key.Lot.ToString()), ("used", Say.Time(attempt.At))]);
        }

        LifeFound? worst = null;
        foreach (var (fact, mixed) in mixes)
        {
            var judged = LifeRules.Judge(history, PotTerm(item, fact), Milestones.Of(fact), new(attempt.At, attempt.Uncertainty, attempt.Id));
            if (judged.Verdict == IntervalVerdict.Kept || worst?.Kind == FindingKinds.PotLifeExceeded)
            {
                continue;
            }

            var isPast = judged.Verdict == IntervalVerdict.TooLong;
            worst = new(
                isPast ? FindingKinds.PotLifeExceeded : FindingKinds.PotLifeUndetermined,
                $"Lot {lot.Key.Lot} of {lot.Key.Item} was used {Say.Span(attempt.At - fact.At)} after it was mixed, {(isPast ? "beyond" : "not certain to be within")} its {judged.Limit}.{judged.Said}",
                [("lot", lot.Key.Lot.ToString()), ("mixed", Say.Time(fact.At)), ("mixed-as", mixed.Lot.ToString()), ("mixed-by", fact.Id.ToString()), ("used", Say.Time(attempt.At)), .. judged.Evidence]);
        }

        return worst;
    }

    private static void JudgeParts(
        Attempt attempt, MaterialRequirement requirement, Mixture declared, Lot lot, ImmutableArray<(EffectiveFact Fact, LotMixed Mixed)> mixes, FindingSink sink)
    {
        foreach (var (fact, mixed) in mixes)
        {
            foreach (var fault in LotMixes.Check(declared, mixed))
            {
                sink.Add(
                    attempt,
                    fault.Kind,
                    requirement.Code.ToString(),
                    requirement.Policy,
                    $"Mix {lot.Key}: {fault.Message}",
                    ("lot", lot.Key.Lot.ToString()),
                    ("mixed-by", fact.Id.ToString()),
                    ("parts", string.Join(", ", Lot.SourcesOf(mixed).Select(s => $"{s.Lot} {s.Quantity?.ToString() ?? "?"}"))));
            }
        }
    }

    private sealed record LifeFound(string Kind, string Message, (string Name, string Text)[] Evidence);
}
