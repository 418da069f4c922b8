using Traceability.Domain.Facts;
using Traceability.Domain.Lots;
using Traceability.Domain.Primitives;
using Traceability.Domain.Scope;
using Traceability.Testing.Building;
using Xunit;

namespace Traceability.Domain.Tests.Scope;

public sealed class LotPresenceTests
{
    private static readonly LotKey L77 = Some.Lot("ADH-1", "L77");
    private static readonly ContainerNumber T3 = ContainerNumber.Parse("T3");

    [Fact]
    public void A_lot_could_be_used_from_receipt_released_or_not_until_it_is_emptied() =>
        AssertMinutes(new SuspectLot(L77), "ST-1", [(10, Received(isReleased: false)), (20, new LotEmptied(L77) { OccurredAt = default })], 10, 20);

    [Fact]
    public void A_quarantine_takes_it_away_and_a_release_brings_it_back() =>
        AssertMinutes(
            new SuspectLot(L77),
            "ST-1",
            [(10, Received()), (15, new LotQuarantined(L77, "doubt") { OccurredAt = default }), (25, new LotReleased(L77) { OccurredAt = default })],
            10, 15, 25, 30);

    [Fact]
    public void A_lot_that_is_moved_away_could_be_used_only_where_it_went()
    {
        (int, Fact)[] facts = [(10, Received(stations: "ST-1")), (15, Moved("ST-2"))];
        AssertMinutes(new SuspectLot(L77), "ST-1", facts, 10, 15);
        AssertMinutes(new SuspectLot(L77), "ST-2", facts, 15, 30);
    }

    [Fact]
    public void A_container_could_be_used_from_opening_until_it_is_emptied_where_its_lot_is()
    {
        (int, Fact)[] facts = [(5, Received(stations: "ST-1")), (10, Opened()), (20, new ContainerEmptied(L77, T3) { OccurredAt = default })];
        AssertMinutes(new SuspectContainer(L77, T3), "ST-1", facts, 10, 20);
        AssertMinutes(new SuspectContainer(L77, T3), "ST-2", facts);
    }

    [Fact]
    public void A_container_that_names_its_station_is_there_and_so_is_its_lot()
    {
        (int, Fact)[] facts = [(5, Received(stations: "ST-1")), (10, Opened("ST-2"))];
        AssertMinutes(new SuspectContainer(L77, T3), "ST-2", facts, 10, 30);
        AssertMinutes(new SuspectContainer(L77, T3), "ST-1", facts);
        AssertMinutes(new SuspectLot(L77), "ST-2", facts, 10, 30);
    }

    [Fact]
    public void A_container_whose_opening_is_not_recorded_could_be_used_as_long_as_its_lot() =>
        AssertMinutes(new SuspectContainer(L77, T3), "ST-1", [(10, Received()), (20, new LotEmptied(L77) { OccurredAt = default })], 10, 20);

    [Fact]
    public void The_uncertainty_of_a_clock_widens_both_ends()
    {
        var unsure = new ClockReading(TimeSpan.Zero, TimeSpan.FromMinutes(2), Doubtful: false);
        AssertMinutes(
            new SuspectLot(L77),
            "ST-1",
            [(10, Received() with { Clock = unsure }), (20, new LotEmptied(L77) { OccurredAt = default, Clock = unsure })],
            8, 22);
    }

    [Fact]
    public void A_lot_never_received_could_be_used_always_and_everywhere()
    {
        AssertMinutes(new SuspectLot(L77), "ST-1", [], 0, 30);
        AssertMinutes(new SuspectLot(L77), "ST-1", [(10, new LotEmptied(L77) { OccurredAt = default })], 0, 30);
        Assert.Equal(PresenceDoubt.NeverReceived, LotPresence.Of(new SuspectLot(L77), null).Doubt);
    }

    [Fact]
    public void A_fact_that_cannot_be_read_narrows_nothing() =>
        AssertMinutes(
            new SuspectLot(L77),
            "ST-1",
            [(10, Received()), (15, new UnreadableFact("lot_moved", "not JSON") { OccurredAt = default }), (20, new LotEmptied(L77) { OccurredAt = default })],
            0, 30);

    // Of the minutes from 0 to 30, those in which it could have been used are these ranges, ends included.
    private static void AssertMinutes(SuspectFactor factor, string station, (int Minute, Fact Fact)[] facts, params int[] ends)
    {
        var lot = Lot.Of(L77, [.. facts.Select((f, i) => new RecordedFact(Some.Id(i + 1), f.Fact with { OccurredAt = Some.At(f.Minute) }, Some.At(f.Minute)))]);
        var presence = LotPresence.Of(factor, lot);
        var expected = Enumerable.Range(0, 31).Where(m => ends.Chunk(2).Any(range => range[0] <= m && m <= range[1]));

        Assert.Equal(expected, Enumerable.Range(0, 31).Where(m => presence.CouldBeUsed(Some.At(m), Some.At(m), station)));
    }

    private static LotReceived Received(bool isReleased = true, string? stations = null) =>
        new(L77, null, null, null, isReleased, stations is null ? [] : [StationCode.Parse(stations)]) { OccurredAt = default };

    private static LotMoved Moved(string station) => new(L77, [StationCode.Parse(station)]) { OccurredAt = default };

    private static ContainerOpened Opened(string? station = null) =>
        new(L77, T3, station is null ? [] : [StationCode.Parse(station)]) { OccurredAt = default };
}
