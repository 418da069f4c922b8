using System.Collections.Immutable;
using Traceability.Domain.Facts;
using Traceability.Domain.Items;
using Traceability.Domain.Judging;
using Traceability.Domain.Lots;
using Traceability.Domain.Primitives;
using Traceability.Testing.Building;
using Xunit;

namespace Traceability.Domain.Tests.Lots;

/// <summary>Lots of one adhesive, told fact by fact; times are minutes after noon.</summary>
internal sealed class LotWorks
{
    private readonly Dictionary<string, ImmutableArray<RecordedFact>> _streams = new(StringComparer.Ordinal);
    private int _ids;

    public LotWorks(bool needsInspection = false) =>
        Tell(-1, new ItemDefined(ItemNumber.Parse("ADH"), ItemKind.Consumable, "Adhesive", [], null) { OccurredAt = default, NeedsInspection = needsInspection ? true : null });

    public References References => References.None.With(_streams.Select(s => new KeyValuePair<string, object>(s.Key, References.Fold(s.Key, s.Value)!)));

    public LotJudge Judge => new(References.FindLot);

    public IReadOnlyDictionary<LotKey, Lot> Lots =>
        _streams.Where(s => s.Key.StartsWith("lot/", StringComparison.Ordinal)).Select(s => Traceability.Domain.Lots.Lot.Of(LotKey.Parse(s.Key[4..]), s.Value)).ToDictionary(l => l.Key);

    public static LotKey Key(string lot) => Some.Lot("ADH", lot);

    public static LotSource Out(string lot, decimal? grams = null, string? container = null) =>
        new(Key(lot), grams is { } g ? Some.Quantity(g, "g") : null, container is null ? null : ContainerNumber.Parse(container));

    public Lot Lot(string lot) => Lots[Key(lot)];

    /// <summary>Tells a fact that must be recorded; gives its id.</summary>
    public Guid Tell(double at, Fact fact)
    {
        var timed = fact with { OccurredAt = Some.At(at) };
        Assert.Null(DefinitionDecisions.Check(timed, References));
        return Store(StreamNames.Of(timed)!, timed);
    }

    public Guid Store(string stream, Fact fact)
    {
        var id = Some.Id(++_ids);
        _streams[stream] = _streams.GetValueOrDefault(stream, []).Add(new(id, fact, fact.OccurredAt));
        return id;
    }

    /// <summary>Tells a fact and gives the code of its refusal, or null when it was recorded.</summary>
    public string? Try(double at, Fact fact)
    {
        var timed = fact with { OccurredAt = Some.At(at) };
        var refusal = DefinitionDecisions.Check(timed, References);
        if (refusal is null)
        {
            Store(StreamNames.Of(timed)!, timed);
        }

        return refusal?.Code;
    }

    public LotWorks Received(string lot, double at, double? expires = null, bool isReleased = true, decimal? grams = null)
    {
        Tell(at, new LotReceived(Key(lot), null, grams is { } g ? Some.Quantity(g, "g") : null, expires is { } e ? Some.At(e) : null, isReleased, []) { OccurredAt = default });
        return this;
    }

    public LotWorks Split(string lot, double at, LotSource source)
    {
        Tell(at, new LotSplit(Key(lot), source, []) { OccurredAt = default });
        return this;
    }

    public LotWorks Merged(string lot, double at, params LotSource[] sources)
    {
        Tell(at, new LotMerged(Key(lot), [.. sources], []) { OccurredAt = default });
        return this;
    }

    public LotWorks Released(string lot, double at)
    {
        Tell(at, new LotReleased(Key(lot)) { OccurredAt = default });
        return this;
    }

    public LotWorks Quarantined(string lot, double at)
    {
        Tell(at, new LotQuarantined(Key(lot), "doubt") { OccurredAt = default });
        return this;
    }

    public LotWorks Inspected(string lot, double at, bool accepted = true)
    {
        Tell(at, Inspection(lot, accepted));
        return this;
    }

    public LotWorks Recertified(string lot, double at, double expires)
    {
        Tell(at, new LotRecertified(Key(lot), Some.At(expires), "Report 17", Some.Quality) { OccurredAt = default });
        return this;
    }

    public static LotInspected Inspection(string lot, bool accepted) =>
        new(Key(lot), accepted, 3, [new(Some.Code("VISCOSITY"), accepted, Some.Quantity(12m, "Pa.s"))], "C-1", null) { OccurredAt = default };

    public double? ExpiryAt(string lot, double at) => Judge.ExpiryAt(Lot(lot), Some.At(at)) is { } expiry ? (expiry - Some.Noon).TotalMinutes : null;

    public bool IsReleasedAt(string lot, double at) => Judge.IsReleasedAt(Lot(lot), Some.At(at));

    public LotState StateAt(string lot, double at) => Judge.StateAt(Lot(lot), References.NeedsInspection(ItemNumber.Parse("ADH")), Some.At(at));
}
