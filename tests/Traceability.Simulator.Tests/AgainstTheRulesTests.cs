using System.Globalization;
using System.Text;
using System.Text.Json;
using Traceability.Contracts;
using Traceability.Contracts.Facts;
using Traceability.Domain.Judging;
using Traceability.Service.Http.Reading;
using Traceability.Simulator.Plant;
using Traceability.Simulator.Truth;
using Xunit;

namespace Traceability.Simulator.Tests;

/// <summary>The service's rules and the independent recomputation agree on the whole demo, unit by unit.</summary>
public sealed class AgainstTheRulesTests
{
    private static readonly Lazy<JudgedInMemory> Judged = new(() => new(Demo.Full.Value));

    private static PlantAnswers Answers => Demo.FullAnswers.Value;

    [Fact]
    public void Every_fact_is_accepted_by_the_reader() => Assert.All(Demo.Full.Value.Facts, fact =>
        Assert.Empty(FactReader.Read(Encoding.UTF8.GetBytes(fact.Json)).Faults));

    [Fact]
    public void Every_fact_is_a_message_of_the_contract() => Assert.All(Demo.Full.Value.Facts, fact =>
    {
        var message = JsonSerializer.Deserialize<FactMessage>(fact.Json, WireJson.Options);
        Assert.Equal(fact.Json, JsonSerializer.Serialize(message, WireJson.Options));
    });

    [Fact]
    public void The_same_units_are_judged() =>
        Assert.Equal(Judged.Value.Units.Keys.Order(StringComparer.Ordinal), Answers.Units.Keys.Order(StringComparer.Ordinal), StringComparer.Ordinal);

    [Fact]
    public void Judgements_are_equal_unit_by_unit() => Same(Judged.Value, Answers);

    [Theory]
    [InlineData(1, 40, "2026-03-29T01:30:00+01:00")]
    [InlineData(2, 53, "2025-12-31T23:59:59+00:00")]
    [InlineData(3, 77, "2026-10-25T02:30:00+02:00")]
    public void Judgements_are_equal_on_other_seeds_sizes_and_ends(int seed, int finals, string now)
    {
        var plant = DemoPlant.Build((ulong)seed, finals, DateTimeOffset.Parse(now, CultureInfo.InvariantCulture));
        Same(new(plant), Recomputation.Of(plant.Facts, plant.Now));
    }

    [Fact]
    public void What_units_lack_for_their_release_is_equal()
    {
        // The moments: the end of the plant, and half a year later, when what is met by time alone is met.
        foreach (var at in new[] { Answers.Now, Answers.Now.AddDays(180) })
        {
            foreach (var unit in Answers.Units.Keys)
            {
                Assert.Equal(
                    Judged.Value.LackingForRelease(unit, at).Order(StringComparer.Ordinal),
                    Answers.LackingForRelease(unit, at).Order(StringComparer.Ordinal));
            }
        }
    }

    [Fact]
    public async Task The_scopes_of_every_lot_and_container_are_equal()
    {
        Assert.True(Answers.Lots.Sum(l => 1 + Answers.ContainersOf(l.Item, l.Lot).Count) > 100, "The demo has more lots and containers than that.");
        await SameScopesAsync(Judged.Value, Answers);
    }

    [Theory]
    [InlineData(5, 40)]
    [InlineData(6, 90)]
    public async Task The_scopes_are_equal_on_other_seeds_and_sizes(int seed, int finals)
    {
        var plant = DemoPlant.Build((ulong)seed, finals, Demo.Now);
        await SameScopesAsync(new(plant), Recomputation.Of(plant.Facts, plant.Now));
    }

    private static async Task SameScopesAsync(JudgedInMemory judged, PlantAnswers answers)
    {
        foreach (var (item, lot, container) in answers.Lots.SelectMany(l => answers.ContainersOf(l.Item, l.Lot).Prepend(null).Select(c => (l.Item, l.Lot, Container: c))))
        {
            var members = await judged.ScopeAsync(item, lot, container);
            Assert.Equal(
                members.Select(m => $"{m.Unit} {m.Verdict} {m.Now?.ToString() ?? "Cleared"}"),
                answers.Scope(item, lot, container).Select(m => $"{m.Unit} {m.Verdict} {m.Now}"),
                StringComparer.Ordinal);
        }
    }

    private static void Same(JudgedInMemory judged, PlantAnswers answers)
    {
        var differences = new List<string>();
        foreach (var (unit, judgement) in judged.Units)
        {
            var (expected, actual) = (Lines(answers.Units[unit]).ToList(), Lines(judgement, judged).ToList());
            differences.AddRange(expected.Except(actual, StringComparer.Ordinal).Select(d => $"{unit} only recomputed: {d}"));
            differences.AddRange(actual.Except(expected, StringComparer.Ordinal).Select(d => $"{unit} only by the rules: {d}"));
            if (expected.Count != actual.Count)
            {
                differences.Add($"{unit}: {expected.Count} recomputed, {actual.Count} by the rules");
            }
        }

        Assert.True(differences.Count == 0, $"{differences.Count} differences:\n{string.Join('\n', differences.Take(40))}");
    }

    private static IEnumerable<string> Lines(UnitJudgement j, JudgedInMemory judged) =>
    [
        $"place {Kebab(j.Status.Place)} {j.Status.Consignee} {j.Status.EndedDay:O} {j.Status.PassedFirstTime} {j.Status.Revision} {j.Status.Variant}",
        .. j.Findings.Select(f => $"finding {f.Kind} {f.Rule} {f.Step} {f.Attempt} {f.Record} {f.Policy.CountsAsDefect}"),
        .. j.Steps.Select(s => $"step {s.Step} {s.Attempt} {s.Record} {s.Revision} {s.StartedAt:O} {s.CompletedAt:O} {s.Day:O} {s.Station} {s.Person} {s.IsRework} {s.Passed} {s.Defects} {s.Opportunities}"),
        .. j.OpenIntervals.Select(o => $"open {o.Rule} {o.FromStep} {o.ToStep} {o.StartedAt:O} {o.Uncertainty} {o.ReadyAt:O} {o.OverdueAt:O}"),
        .. j.Installations.Select(i => $"content {i.Position} {i.Component} {i.From:O} {i.To:O}"),
        .. j.Usages.Select(u => $"usage {u.Step} {u.Record} {u.Lot} {u.Container} {u.IsOneOf} {u.From:O} {u.To:O} {u.Station}"),
        .. j.Gaps.Select(g => $"gap {Kebab(g.Kind)} {g.Step} {g.Requirement} {string.Join(",", g.Items)} {g.Lot?.Lot} {g.From:O} {g.To:O} {g.Station} {Kebab(g.Reason)}"),
        .. j.ToolUsages.Select(t => $"tool {t.Step} {t.Attempt} {t.Record} {t.Tool} {t.Setting} {t.At:O} {judged.IsSuspect(t)}"),
        .. j.Nonconformances.Select(n => $"nonconformance {n.Id} {Kebab(n.State)} {n.Kind} {n.Rule} {n.Step} {(n.Disposition is { } d ? Kebab(d) : null)} {n.Concession} {n.IsOpen}"),
    ];

    private static IEnumerable<string> Lines(UnitAnswer a) =>
    [
        $"place {a.Place} {a.Consignee} {a.EndedDay:O} {a.PassedFirstTime} {a.Revision} {a.Variant}",
        .. a.Findings.Select(f => $"finding {f.Kind} {f.Rule} {f.Step} {f.Attempt} {f.Record} {f.IsDefect}"),
        .. a.Steps.Select(s => $"step {s.Step} {s.Attempt} {s.Record} {s.Revision} {s.StartedAt:O} {s.CompletedAt:O} {s.Day:O} {s.Station} {s.Person} {s.IsRework} {s.Passed} {s.Defects} {s.Opportunities}"),
        .. a.Open.Select(o => $"open {o.Rule} {o.FromStep} {o.ToStep} {o.StartedAt:O} {o.Uncertainty} {o.ReadyAt:O} {o.OverdueAt:O}"),
        .. a.Contents.Select(i => $"content {i.Position} {i.Component} {i.From:O} {i.To:O}"),
        .. a.Usages.Select(u => $"usage {u.Step} {u.Record} {u.Item}/{u.Lot} {u.Container} {u.IsOneOf} {u.From:O} {u.To:O} {u.Station}"),
        .. a.Gaps.Select(g => $"gap {g.Kind} {g.Step} {g.Rule} {string.Join(",", g.Items)} {g.Lot} {g.From:O} {g.To:O} {g.Station} {g.Reason}"),
        .. a.ToolUses.Select(t => $"tool {t.Step} {t.Attempt} {t.Record} {t.Tool} {t.Setting} {t.At:O} {t.IsSuspect}"),
        .. a.Nonconformances.Select(n => $"nonconformance {n.Id} {n.State} {n.Kind} {n.Rule} {n.Step} {n.Disposition} {n.Concession} {n.IsOpen}"),
    ];

    private static string Kebab<T>(T value)
        where T : struct, Enum => JsonNamingPolicy.KebabCaseLower.ConvertName(value.ToString());
}
