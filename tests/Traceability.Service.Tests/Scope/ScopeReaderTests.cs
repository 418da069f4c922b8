using Traceability.Domain.Facts;
using Traceability.Domain.Judging;
using Traceability.Domain.Lots;
using Traceability.Domain.Primitives;
using Traceability.Service.Features.Scope;
using Traceability.Service.Storage.Answers;
using Xunit;

namespace Traceability.Service.Tests.Scope;

public sealed class ScopeReaderTests
{
    private static readonly DateTimeOffset Noon = new(2026, 3, 2, 12, 0, 0, TimeSpan.Zero);
    private static readonly LotKey L77 = new(ItemNumber.Parse("ADH-1"), LotNumber.Parse("L77"));

    [Fact]
    public async Task A_page_shows_some_members_and_the_totals_count_all()
    {
        await using var database = await ScopeDatabase.CreateAsync();
        await database.TellAsync(Received());
        await database.FillAsync([.. Enumerable.Range(1, 5).Select(n => Unit($"{n}", L77, n <= 2 ? Place.Shipped : Place.InStock))]);

        var first = await AskAsync(database, limit: "2");
        var second = await AskAsync(database, limit: "2", after: first!.After);
        var last = await AskAsync(database, limit: "2", after: second!.After);

        Assert.Equal(["1", "2", "3", "4", "5"], first.Members.Concat(second.Members).Concat(last!.Members).Select(m => m.Serial), StringComparer.Ordinal);
        Assert.Equal("FP-2/2", first.After);
        Assert.Null(last.After);
        Assert.All([first, second, last], answer => Assert.Equal((5, 5, 0), (answer!.Totals.Members, answer.Totals.Proven, answer.Totals.Possible)));
        Assert.Equal([("in-stock", 3, 0), ("shipped", 2, 0)], last.Totals.Places.Select(p => (p.Place, p.Proven, p.Possible)));
        Assert.Equal("Northmere Wells", first.Members[0].Whereabouts.Consignee);
        Assert.True(first.Completeness.IsComplete);
        Assert.Empty(first.Remarks);
    }

    [Fact]
    public async Task Units_whose_record_names_another_lot_are_counted_always_and_listed_when_asked_for()
    {
        await using var database = await ScopeDatabase.CreateAsync();
        await database.TellAsync(Received());
        await database.FillAsync([Unit("1", L77), Unit("2", L77 with { Lot = LotNumber.Parse("L78") }), Unit("3", L77 with { Lot = LotNumber.Parse("L79") })]);

        var without = await AskAsync(database);
        var with = await AskAsync(database, include: "cleared", limit: "1");
        var next = await AskAsync(database, include: "cleared", limit: "1", clearedAfter: with!.ClearedAfter);

        Assert.Equal(2, without!.Totals.Cleared);
        Assert.Null(without.Cleared);
        Assert.Equal(("2", "ADH-1/L78"), (Assert.Single(with.Cleared!).Serial, with.Cleared![0].Evidence.Lot));
        Assert.Equal("3", Assert.Single(next!.Cleared!).Serial);
        Assert.Null(next.ClearedAfter);
    }

    [Fact]
    public async Task A_lot_that_nobody_received_and_no_record_names_is_unknown()
    {
        await using var database = await ScopeDatabase.CreateAsync();
        await database.FillAsync([Unit("1", L77 with { Lot = LotNumber.Parse("L78") })]);

        Assert.Null(await AskAsync(database));
    }

    [Fact]
    public async Task A_lot_that_a_record_names_is_answered_for_though_it_was_never_received()
    {
        await using var database = await ScopeDatabase.CreateAsync();
        await database.FillAsync([Unit("1", L77)]);

        var answer = await AskAsync(database);

        Assert.False(answer!.Factor.IsReceived);
        Assert.Equal("proven", Assert.Single(answer.Members).Verdict);
        Assert.Contains("was never received", Assert.Single(answer.Remarks), StringComparison.Ordinal);
    }

    [Fact]
    public async Task A_unit_inside_another_one_is_where_the_outermost_is()
    {
        await using var database = await ScopeDatabase.CreateAsync();
        await database.TellAsync(Received());
        var inner = Unit("1", L77);
        var middle = Holding("2", inner, until: null);
        await database.FillAsync([inner, middle, Holding("3", middle, until: null, Place.Shipped)]);

        var answer = await AskAsync(database);

        Assert.Equal(
            [("shipped", "3"), ("shipped", "3"), ("shipped", null)],
            answer!.Members.Select(m => (m.Whereabouts.Place, m.Whereabouts.Inside?.Serial)));
        Assert.Equal(["3", "2", "1"], answer.Members[2].Path.Select(h => h.Unit.Serial), StringComparer.Ordinal);
        Assert.Equal(["installed", "installed", "recorded"], answer.Members[2].Path.Select(h => h.Kind), StringComparer.Ordinal);
    }

    [Fact]
    public async Task What_cannot_be_read_and_what_waits_to_be_judged_again_is_said()
    {
        await using var database = await ScopeDatabase.CreateAsync();
        await database.TellAsync(Received());
        var unit = Unit("1", L77);
        await database.FillAsync([unit with { Status = unit.Status with { HasUnreadable = true } }]);
        await database.ExecuteAsync("insert into traceability.rejudge (unit, asked_at) values ('FP-2/9', now())");

        var answer = await AskAsync(database);

        Assert.False(answer!.Completeness.IsComplete);
        Assert.Equal(["FP-2/1"], answer.Completeness.UnreadableUnitsShown);
        Assert.Equal(1, answer.Completeness.RejudgementsPending);
        Assert.Equal(2, answer.Remarks.Count);
    }

    [Theory]
    [InlineData("0", null, null, null, "limit")]
    [InlineData("1001", null, null, null, "limit")]
    [InlineData("-1", null, null, null, "limit")]
    [InlineData("ten", null, null, null, "limit")]
    [InlineData(null, "FP-2", null, null, "after")]
    [InlineData(null, "FP-2/1/2", null, null, "after")]
    [InlineData(null, null, "everything", null, "include")]
    [InlineData(null, null, null, "a b/c", "clearedAfter")]
    public void A_question_that_cannot_be_read_is_refused_with_the_place(
        string? limit, string? after, string? include, string? clearedAfter, string place)
    {
        var (request, refusal) = ScopeRequest.Read("ADH-1", "L77", null, limit, after, include, clearedAfter);

        Assert.Null(request);
        Assert.Equal(RefusalKind.Malformed, refusal!.Kind);
        Assert.Equal(place, Assert.Single(refusal.Faults).Pointer);
    }

    [Fact]
    public void All_faults_of_a_question_are_said_at_once()
    {
        var (_, refusal) = ScopeRequest.Read("A B", "?", "", "x", "y", "z", null);

        Assert.Equal(["item", "lot", "container", "limit", "include", "after"], refusal!.Faults.Select(f => f.Pointer), StringComparer.Ordinal);
    }

    private static async Task<Traceability.Contracts.Scope.ScopeAnswer?> AskAsync(
        ScopeDatabase database, string? limit = null, string? after = null, string? include = null, string? clearedAfter = null)
    {
        var (request, refusal) = ScopeRequest.Read("ADH-1", "L77", null, limit, after, include, clearedAfter);
        Assert.Null(refusal);
        using var seconds = new SecondSessions(database.Source);
        return await new ScopeReader(database.Answers, new(seconds, TimeProvider.System)).FindAsync(request!, default);
    }

    private static Lot Received() => Lot.Of(
        L77,
        [new(new Guid(1, 0, 0, new byte[8]), new LotReceived(L77, null, null, null, IsReleased: true, []) { OccurredAt = Noon.AddDays(-1) }, Noon)]);

    private static UnitJudgement Unit(string serial, LotKey lot, Place place = Place.InProcess)
    {
        var key = new UnitKey(ItemNumber.Parse("FP-2"), SerialNumber.Parse(serial));
        return Empty(key, place) with
        {
            Usages = [new(StepCode.Parse("BOND"), new Guid(2, 0, 0, new byte[8]), Code.Parse("GLUE"), lot, null, IsOneOf: false, Noon, Noon.AddMinutes(3), null)],
        };
    }

    private static UnitJudgement Holding(string serial, UnitJudgement component, DateTimeOffset? until, Place place = Place.InProcess)
    {
        var key = new UnitKey(ItemNumber.Parse("FP-2"), SerialNumber.Parse(serial));
        return Empty(key, place) with
        {
            Installations = [new(key, Code.Parse("DRIVE"), component.Unit, StepCode.Parse("MARRY"), new Guid(3, 0, 0, new byte[8]), Noon.AddHours(1), until)],
        };
    }

    private static UnitJudgement Empty(UnitKey key, Place place) => new(
        key,
        new(null, [], null, Noon, null, place, null, Noon, place == Place.Shipped ? "Northmere Wells" : null, null, null, false, false),
        [],
        [],
        [],
        [],
        [],
        []);
}
