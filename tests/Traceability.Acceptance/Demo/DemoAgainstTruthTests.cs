using System.Globalization;
using Traceability.Contracts;
using Traceability.Contracts.Intervals;
using Traceability.Contracts.Scope;
using Traceability.Contracts.Units;
using Traceability.Contracts.Yield;
using Traceability.Simulator.Truth;

namespace Traceability.Acceptance.Demo;

/// <summary>
/// The service's answers about the whole demo against a computation that was written apart from it, over the same facts,
/// and against what the simulator knows to be true.
/// </summary>
public sealed partial class DemoAgainstTruthTests(DemoFixture fixture) : IClassFixture<DemoFixture>
{
    private readonly DemoHost _demo = fixture.Demo;

    [Fact]
    public void Every_fact_of_the_demo_is_accepted()
    {
        Assert.Empty(_demo.Report.Refused);
        Assert.Equal(_demo.Plant.Facts.Count, _demo.Report.Accepted);
    }

    [Fact]
    public async Task Every_unit_has_the_findings_attempts_and_place_that_an_independent_computation_gives_it()
    {
        Assert.NotEmpty(_demo.Answers.Units);
        var differences = new List<string>();
        foreach (var (unit, expected) in _demo.Answers.Units)
        {
            var view = await _demo.AskAsync<UnitView>($"/api/units/{unit}");
            Compare(differences, unit, "findings", expected.Findings.Select(Text), view.Findings.Select(Text));
            Compare(differences, unit, "attempts", expected.Steps.Select(Text), view.Steps.Select(Text));
            Compare(differences, unit, "place", [expected.Place], [view.Unit.Place]);
            Compare(differences, unit, "intervals", expected.Open.Select(o => $"{o.Rule} {o.FromStep} {o.ToStep}"), view.OpenIntervals.Select(o => $"{o.Rule} {o.FromStep} {o.ToStep}"));
            Compare(
                differences,
                unit,
                "contents",
                expected.Contents.Select(c => $"{c.Position} {c.Component} {c.To is null}"),
                view.Components.Select(c => $"{c.Position} {c.Component.Item}/{c.Component.Serial} {c.To is null}"));
        }

        Assert.True(differences.Count == 0, string.Join('\n', differences.Take(40)));
    }

    [Fact]
    public async Task Step_yields_by_day_station_variant_and_revision_are_those_of_the_independent_computation()
    {
        var expected = _demo.Answers.StepYields();
        Assert.NotEmpty(expected);
        foreach (var item in expected.Keys.Select(k => k.Item).Distinct(StringComparer.Ordinal))
        {
            var days = expected.Keys.Where(k => k.Item == item).Select(k => k.Day).ToArray();
            var answer = await _demo.AskAsync<StepYields>(
                $"/api/yield/steps?item={item}&from={Day(days.Min())}&to={Day(days.Max())}&by=day,station,variant,step,revision");
            var found = answer.Cells
                .Where(c => c.Figures.FirstPassYield.Denominator > 0)
                .ToDictionary(c => new StepYieldKey(item, c.Step!, c.Day!.Value, c.Station ?? string.Empty, c.Variant ?? string.Empty, c.Revision ?? string.Empty), c => c.Figures.FirstPassYield);
            Assert.Equal(
                expected.Where(e => e.Key.Item == item).Select(e => $"{e.Key} {e.Value.Good}/{e.Value.Of}").Order(StringComparer.Ordinal),
                found.Select(f => $"{f.Key} {f.Value.Numerator}/{f.Value.Denominator}").Order(StringComparer.Ordinal));
            foreach (var (key, share) in found)
            {
                var (lower, upper) = expected[key].Interval!.Value;
                Assert.Equal(lower, share.Lower!.Value, 5e-10);
                Assert.Equal(upper, share.Upper!.Value, 5e-10);
            }
        }
    }

    [Fact]
    public async Task Unit_yields_and_rolled_throughput_yields_are_those_of_the_independent_computation()
    {
        var expected = _demo.Answers.UnitYields();
        Assert.NotEmpty(expected);
        var (from, to) = (expected.Keys.Min(k => k.Day), expected.Keys.Max(k => k.Day));
        foreach (var item in expected.Keys.Select(k => k.Item).Distinct(StringComparer.Ordinal))
        {
            var answer = await _demo.AskAsync<UnitYields>($"/api/yield/units?item={item}&from={Day(from)}&to={Day(to)}&by=day,variant,revision");
            Assert.Equal(
                expected.Where(e => e.Key.Item == item).Select(e => $"{Day(e.Key.Day)} {e.Key.Variant} {e.Key.Revision} {e.Value.Good}/{e.Value.Of}").Order(StringComparer.Ordinal),
                answer.Cells.Select(c => $"{Day(c.Day!.Value)} {c.Variant} {c.Revision} {c.Figures.FirstPassYield.Numerator}/{c.Figures.FirstPassYield.Denominator}").Order(StringComparer.Ordinal));
        }

        foreach (var (item, revision) in _demo.Answers.StepYields().Keys.Select(k => (k.Item, k.Revision)).Where(k => k.Revision.Length > 0).Distinct())
        {
            var answer = await _demo.AskAsync<ThroughputYield>($"/api/yield/throughput?item={item}&revision={revision}&from={Day(from.AddDays(-120))}&to={Day(to.AddDays(1))}");
            var rolled = _demo.Answers.RolledThroughput(item, revision, _ => true);
            Assert.Equal(rolled is null, answer.RolledThroughputYield.Estimate is null);
            if (rolled is { } value)
            {
                Assert.Equal(value, answer.RolledThroughputYield.Estimate!.Value, 5e-10);
            }
        }
    }

    [Fact]
    public async Task Cure_time_violations_and_what_is_curing_now_are_those_of_the_independent_computation()
    {
        var violations = await _demo.AskAsync<IntervalViolations>($"/api/intervals/violations?from={_demo.Plant.Now.UtcDateTime.AddDays(-200):yyyy-MM-ddTHH:mm:ssZ}&to={_demo.Plant.Now.UtcDateTime.AddDays(1):yyyy-MM-ddTHH:mm:ssZ}&limit=1000");
        var expected = _demo.Answers.Violations();
        Assert.NotEmpty(expected);
        Assert.Equal(
            expected.Select(v => $"{v.Unit} {Text(v.Finding)}").Order(StringComparer.Ordinal),
            violations.Past.Select(f => $"{f.Unit!.Item}/{f.Unit.Serial} {Text(f)}").Order(StringComparer.Ordinal));

        var open = await _demo.AskAsync<OpenIntervals>("/api/intervals/open?limit=1000");
        Assert.NotEmpty(open.Intervals);
        Assert.Equal(
            _demo.Answers.OpenIntervals().Select(o => $"{o.Unit} {o.Open.Rule} {Time(o.Open.ReadyAt)} {Time(o.Open.OverdueAt)}").Order(StringComparer.Ordinal),
            open.Intervals.Select(o => $"{o.Unit.Item}/{o.Unit.Serial} {o.Rule} {Time(o.ReadyAt)} {Time(o.OverdueAt)}").Order(StringComparer.Ordinal));
    }

    [Fact]
    public async Task The_scope_of_every_lot_and_container_is_that_of_the_independent_computation_and_misses_no_unit_that_truly_carries_it()
    {
        var differences = new List<string>();
        foreach (var (item, lot) in _demo.Answers.Lots)
        {
            await CompareScopeAsync(differences, item, lot, null);
            foreach (var container in _demo.Answers.ContainersOf(item, lot))
            {
                await CompareScopeAsync(differences, item, lot, container);
            }
        }

        Assert.True(differences.Count == 0, string.Join('\n', differences.Take(40)));
    }

    private static void Compare(List<string> differences, string unit, string what, IEnumerable<string> expected, IEnumerable<string> found)
    {
        var (e, f) = (expected.Order(StringComparer.Ordinal).ToArray(), found.Order(StringComparer.Ordinal).ToArray());
        if (!e.SequenceEqual(f, StringComparer.Ordinal))
        {
            differences.Add($"{unit} {what}: only expected [{string.Join("; ", e.Except(f, StringComparer.Ordinal))}], only found [{string.Join("; ", f.Except(e, StringComparer.Ordinal))}]");
        }
    }

    private static string Text(FindingAnswer f) => $"{f.Kind} {f.Rule} {f.Step} {f.Attempt} {f.Record} {f.IsDefect}";

    private static string Text(Finding f) => $"{f.Kind} {f.Rule} {f.Step} {f.Attempt} {f.Record} {f.CountsAsDefect}";

    private static string Text(StepAnswer s) => $"{s.Step} {s.Attempt} {s.Record} {s.Revision} {Day(s.Day)} {s.Station} {s.Person} {s.IsRework} {s.Passed} {s.Defects}";

    private static string Text(StepAttempt s) => $"{s.Step} {s.Attempt} {s.Record} {s.Revision} {Day(s.Day)} {s.Station} {s.Person} {s.IsRework} {s.Passed} {s.Defects}";

    // A member is never cleared; what exposed it may be gone again, and then it is clear now.
    private static string Word(ScopeVerdict verdict) => verdict switch
    {
        ScopeVerdict.Proven => "proven",
        ScopeVerdict.Possible => "possible",
        _ => "clear",
    };

    private static string Day(DateOnly day) => day.ToString("yyyy-MM-dd", CultureInfo.InvariantCulture);

    // The offset of a terminal's clock is measured to the second.
    private static string Time(DateTimeOffset? at) => at is { } t ? t.UtcDateTime.ToString("yyyy-MM-dd HH:mm:ss", CultureInfo.InvariantCulture) : "never";

    private async Task CompareScopeAsync(List<string> differences, string item, string lot, string? container)
    {
        var path = $"/api/lots/{item}/{lot}{(container is null ? string.Empty : $"/containers/{container}")}/scope";
        var answer = await _demo.AskAsync<ScopeAnswer>($"{path}?limit=1000");
        Assert.Null(answer.After);
        Compare(
            differences,
            path,
            "scope",
            _demo.Answers.Scope(item, lot, container).Select(m => $"{m.Unit} {Word(m.Verdict)} {Word(m.Now)}"),
            answer.Members.Select(m => $"{m.Item}/{m.Serial} {m.Verdict} {m.Now}"));
        var reached = answer.Members.Select(m => $"{m.Item}/{m.Serial}").ToHashSet(StringComparer.Ordinal);
        var carriers = _demo.Plant.Truth.UnitsWith(item, lot, container).ToHashSet(StringComparer.Ordinal);
        var missed = carriers.Where(u => !reached.Contains(u) && !IsUnheardOf(u, item, lot, carriers)).ToArray();
        if (missed.Length > 0)
        {
            differences.Add($"{path} misses units that truly carry it: {string.Join(", ", missed)}");
        }
    }

    // The plant is stopped in the midst of its work: what was put in a moment ago belongs to a step that is still under way, or
    // whose record was never sent, and nothing told of the unit since could show it. Nobody can know of it yet.
    private bool IsUnheardOf(string unit, string item, string lot, HashSet<string> carriers)
    {
        var told = _demo.Plant.Facts.Where(f => f.Unit == unit && f.Type != "step-started").Select(f => f.HappenedAt).DefaultIfEmpty(DateTimeOffset.MinValue).Max();
        var truth = _demo.Plant.Truth;
        return truth.Uses.Where(u => u.Unit == unit && u.Item == item && u.Lot == lot).Select(u => u.At)
            .Concat(truth.Contents.Where(c => c.Parent == unit && carriers.Contains(c.Component)).Select(c => c.From))
            .All(at => at >= told);
    }
}
