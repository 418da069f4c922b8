using CsCheck;
using Traceability.Domain.Narrowing;
using Traceability.Domain.Primitives;
using Traceability.Domain.Scope;
using Traceability.Testing;
using Traceability.Testing.Building;
using Traceability.Testing.Scope;
using Xunit;

namespace Traceability.Domain.Tests.Narrowing;

public sealed class AlternativeTests
{
    private static readonly SuspectLot Lot = new(Some.Lot("ADH", "L1"));

    [Fact]
    public void Each_container_station_and_step_is_proposed_most_uses_first_where_there_is_more_than_one()
    {
        var found = Alternatives.Propose(Lot, [Use(0, "BOND", "ST-1", "T2"), Use(1, "BOND", "ST-2", "T2"), Use(2, "BOND", "ST-2", "T1"), Use(3, "BOND", null, null)]);

        Assert.Equal(
            ["container T2", "container T1", "station ST-2", "station ST-1"],
            found.Where(a => a.By != NarrowedBy.Time).Select(a => a.Name));
        Assert.Equal(new SuspectContainer(Lot.Lot, ContainerNumber.Parse("T2")), found[0].Suspect);
        Assert.Equal(Lot with { Filter = UseFilter.None with { Station = StationCode.Parse("ST-2") } }, found.First(a => a.By == NarrowedBy.Station).Suspect);
    }

    [Fact]
    public void The_time_is_cut_at_days_into_parts_that_meet_and_have_no_outer_end()
    {
        var found = Alternatives.Propose(Lot, [.. Enumerable.Range(0, 40).Select(n => Use(n * 6 * 60, "BOND", "ST-1", "T1"))]);
        UseFilter[] filters = [.. found.Select(a => ((SingleSuspect)a.Suspect).Filter)];

        Assert.Equal(4, filters.Length);
        Assert.All(found, a => Assert.Equal(NarrowedBy.Time, a.By));
        Assert.Null(filters[0].From);
        Assert.Null(filters[^1].To);
        Assert.All(filters.Zip(filters.Skip(1)), pair => Assert.Equal(pair.First.To, pair.Second.From));
        Assert.All(filters.Skip(1), f => Assert.Equal(TimeSpan.Zero, f.From!.Value.TimeOfDay));
    }

    [Fact]
    public void What_is_narrowed_already_is_narrowed_further_only_inside()
    {
        var begin = Some.At(60 * 48);
        var narrowed = Lot with { Filter = UseFilter.None with { From = begin, Station = StationCode.Parse("ST-1") } };
        var found = Alternatives.Propose(narrowed, [.. Enumerable.Range(0, 40).Select(n => Use(n * 6 * 60, "BOND", n % 2 == 0 ? "ST-1" : "ST-2", "T1"))]);

        Assert.DoesNotContain(found, a => a.By == NarrowedBy.Station);
        Assert.All(found, a => Assert.Equal(StationCode.Parse("ST-1"), ((SingleSuspect)a.Suspect).Filter.Station));
        Assert.All(found, a => Assert.True(((SingleSuspect)a.Suspect).Filter.From >= begin));
    }

    [Fact]
    public void Nothing_is_proposed_for_a_combination_or_where_uses_do_not_differ()
    {
        Assert.Empty(Alternatives.Propose(new SuspectAny([Lot, Lot]), [Use(0, "A", "S", "T1"), Use(1, "B", "T", "T2")]));
        Assert.Empty(Alternatives.Propose(Lot, [Use(0, "BOND", "ST-1", "T1"), Use(0, "BOND", "ST-1", "T1")]));
        Assert.Empty(Alternatives.Propose(Lot, []));
    }

    // Windows leave no member out, and a narrower question finds no member that the wider one doesn't.
    [Fact]
    public void The_parts_of_the_time_find_together_every_member_and_no_other() =>
        Gen.Int[0, 719].Array[100, 280].Sample(
            choices =>
            {
                var history = RandomGenealogy.From(choices, holesMax: 8);
                UseSeen[] uses = [.. history.Records.SelectMany(r => r.Usages).Where(u => u.Lot == history.Factor.Lot).Select(u => new UseSeen(u.From, u.Step?.Value, u.Station?.Value, u.Container?.Value))];
                var asking = new Asking(history, history.Factor, history.Records);
                var all = asking.Members();
                var parts = Windows(history.Factor, uses).Select(w => (asking with { Suspect = w }).Members()).ToList();
                Assert.All(parts, p => Assert.Empty(p.Except(all, StringComparer.Ordinal)));
                if (parts.Count > 0)
                {
                    Assert.Equal<string>(all, parts.SelectMany(p => p).Distinct(StringComparer.Ordinal).Order(StringComparer.Ordinal));
                }
            },
            iter: TestLength.IsLong ? 500_000 : 10_000,
            print: choices => RandomGenealogy.From(choices, 8).ToString());

    // A random history lasts minutes: cut at minutes, as hours would be.
    private static Suspect[] Windows(SuspectFactor factor, UseSeen[] uses)
    {
        UseSeen[] stretched = [.. uses.Select(u => u with { At = RandomGenealogy.Start.AddHours(RandomGenealogy.MinuteOf(u.At)) })];
        return
        [
            .. Alternatives.Propose(factor, stretched).Where(a => a.By == NarrowedBy.Time).Select(a => ((SingleSuspect)a.Suspect).Filter)
                .Select(f => factor with { Filter = f with { From = Shrink(f.From), To = Shrink(f.To) } }),
        ];

        static DateTimeOffset? Shrink(DateTimeOffset? at) => at is { } t ? RandomGenealogy.At((int)(t - RandomGenealogy.Start).TotalHours) : null;
    }

    private static UseSeen Use(double minute, string? step, string? station, string? container) => new(Some.At(minute), step, station, container);
}
