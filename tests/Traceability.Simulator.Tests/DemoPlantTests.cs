using System.Text.Json;
using Traceability.Simulator.Plant;
using Xunit;

namespace Traceability.Simulator.Tests;

public sealed class DemoPlantTests
{
    [Fact]
    public void The_same_seed_gives_the_same_bytes()
    {
        var again = DemoPlant.Build(20, DemoPlant.FinalsMin, Demo.Now);
                Assert.NotSame(Demo.Small.Value, again);
        Assert.Equal(Demo.Small.Value.Facts, again.Facts);
    }

    [Fact]
    public void Another_seed_gives_other_facts_with_other_ids()
    {
        var other = DemoPlant.Build(21, DemoPlant.FinalsMin, Demo.Now);
        Assert.Equal([DemoScope.FactId], Demo.Small.Value.Facts.Select(f => f.Id).Intersect(other.Facts.Select(f => f.Id)));
    }

    [Fact]
    public void The_first_fact_says_which_demo_it_is()
    {
        var first = Demo.Small.Value.Facts[0];
        Assert.Equal(DemoScope.FactId, first.Id);
        Assert.Equal(new DemoScope(20, DemoPlant.FinalsMin, Demo.Now), DemoScope.Find(first.Json));
        Assert.Null(DemoScope.Find("Works"));
    }

    [Theory]
    [InlineData(1, 40)]
    [InlineData(2, 55)]
    [InlineData(3, 120)]
    [InlineData(20, 300)]
    public void Every_kind_of_trouble_happens(int seed, int finals)
    {
        var plant = DemoPlant.Build((ulong)seed, finals, Demo.Now);
        var missing = Enum.GetValues<TroubleKind>().Except(plant.Truth.Troubles.Select(t => t.Kind));
        Assert.Empty(missing);
    }

    [Fact]
    public void Trouble_hits_units_that_exist()
    {
        var opened = Demo.Full.Value.Facts.Where(f => f.Type == "unit-opened").Select(f => f.Unit!).ToHashSet(StringComparer.Ordinal);
        Assert.All(Demo.Full.Value.Truth.Troubles, t => Assert.Contains(t.Unit, opened));
    }

    [Fact]
    public void The_full_demo_has_some_three_hundred_pumps_and_fourteen_thousand_facts()
    {
        var plant = Demo.Full.Value;
        Assert.InRange(plant.Facts.Count, 13_000, 15_000);
        Assert.InRange(plant.Facts.Count(f => f.Type == "unit-opened" && f.Unit!.StartsWith("FP-2/", StringComparison.Ordinal)), 280, 300);
        Assert.InRange((plant.Now - plant.Facts[0].HappenedAt).TotalDays, 50, 80);
    }

    [Fact]
    public void Ids_are_unique_and_the_body_carries_them()
    {
        var facts = Demo.Full.Value.Facts;
        Assert.Equal(facts.Count, facts.Select(f => f.Id).Distinct().Count());
        Assert.All(facts, fact =>
        {
            using var body = fact.Parse();
            Assert.Equal(fact.Id, body.RootElement.GetProperty("factId").GetGuid());
            Assert.Equal(fact.Type, body.RootElement.GetProperty("type").GetString());
        });
    }

    [Fact]
    public void A_unit_is_opened_before_anything_else_is_sent_about_it()
    {
        var known = new HashSet<string>(StringComparer.Ordinal);
        foreach (var fact in Demo.Full.Value.Facts.Where(f => f.Unit is not null))
        {
            if (fact.Type == "unit-opened")
            {
                Assert.True(known.Add(fact.Unit!), $"{fact.Unit} is opened twice.");
            }
            else
            {
                Assert.Contains(fact.Unit!, known);
            }
        }
    }

    [Fact]
    public void A_component_is_known_before_it_is_put_in_and_a_record_before_it_is_corrected()
    {
        var known = new HashSet<string>(StringComparer.Ordinal);
        foreach (var fact in Demo.Full.Value.Facts)
        {
            using var body = fact.Parse();
            if (body.RootElement.TryGetProperty("components", out var components))
            {
                Assert.All(components.EnumerateArray(), c => Assert.Contains(UnitOf(c.GetProperty("component")), known));
            }

            if (body.RootElement.TryGetProperty("record", out var record))
            {
                Assert.Contains(record.GetString()!, known);
            }

            known.Add(fact.Id.ToString());
            known.Add(fact.Unit ?? string.Empty);
        }
    }

    [Fact]
    public void Facts_of_one_unit_are_sent_in_the_order_in_which_they_happened_unless_a_terminal_was_offline()
    {
        foreach (var unit in Demo.Full.Value.Facts.Where(f => f.Unit is not null).GroupBy(f => f.Unit, StringComparer.Ordinal))
        {
            var online = unit.Where(f => f.ClockError == TimeSpan.Zero).Select(f => f.HappenedAt).ToList();
            Assert.Equal(online.Order(), online);
        }
    }

    [Fact]
    public void Offline_terminals_send_a_day_later_with_their_clock_off()
    {
        var late = Demo.Full.Value.Facts.Where(f => f.ClockError != TimeSpan.Zero).ToList();
        Assert.Equal([TimeSpan.FromHours(-26), TimeSpan.FromMinutes(7)], late.Select(f => f.ClockError).Distinct().Order());
        Assert.All(late, fact =>
        {
            Assert.Equal(fact.HappenedAt.AddDays(1), fact.SentAt);
            using var body = fact.Parse();
            Assert.Equal(fact.HappenedAt + fact.ClockError, body.RootElement.GetProperty("occurredAt").GetDateTimeOffset());
        });
    }

    [Fact]
    public void Nothing_happens_after_the_end_and_some_work_is_under_way()
    {
        var plant = Demo.Full.Value;
        Assert.All(plant.Facts, f => Assert.True(f.HappenedAt <= plant.Now));
        Assert.Contains(plant.Facts, f => f.HappenedAt > plant.Now.AddMinutes(-10));
    }

    [Fact]
    public void A_station_names_itself()
    {
        Assert.All(Demo.Full.Value.Facts.Where(f => f.Sender is not (Senders.Engineer or Senders.Quality)), fact =>
        {
            using var body = fact.Parse();
            Assert.Equal(fact.Sender, body.RootElement.GetProperty("station").GetString());
        });
    }

    [Theory]
    [InlineData("2026-03-29T01:30:00+01:00")]
    [InlineData("2026-10-25T02:30:00+01:00")]
    [InlineData("2026-01-01T00:00:00+00:00")]
    [InlineData("2026-06-07T23:59:59+02:00")]
    public void The_demo_can_end_at_any_time(string now)
    {
        var plant = DemoPlant.Build(4, DemoPlant.FinalsMin, DateTimeOffset.Parse(now, System.Globalization.CultureInfo.InvariantCulture));
        Assert.Contains(plant.Facts, f => f.HappenedAt > plant.Now.AddMinutes(-10));
        Assert.Empty(Enum.GetValues<TroubleKind>().Except(plant.Truth.Troubles.Select(t => t.Kind)));
    }

    private static string UnitOf(JsonElement unit) => $"{unit.GetProperty("item").GetString()}/{unit.GetProperty("serial").GetString()}";
}
