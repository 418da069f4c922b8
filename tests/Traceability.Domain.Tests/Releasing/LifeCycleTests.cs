using CsCheck;
using Traceability.Domain.Facts;
using Traceability.Domain.Judging;
using Traceability.Domain.Primitives;
using Traceability.Domain.ProductUnits;
using Traceability.Testing.Building;
using Xunit;

namespace Traceability.Domain.Tests.Releasing;

/// <summary>The life of a unit as a table: every standing with every act.</summary>
public sealed class LifeCycleTests
{
    private static readonly UnitKey Head = Some.Unit("HEAD", "H1");
    private static readonly UnitKey Lamp = Some.Unit("LAMP", "1");

    private static readonly Dictionary<char, Place> Places = new()
    {
        ['P'] = Place.InProcess, ['K'] = Place.InStock, ['S'] = Place.Shipped, ['R'] = Place.Returned, ['X'] = Place.Scrapped,
    };

    // Standing: P in process, K in stock (released), S shipped, R returned, X scrapped; h: on hold.
    // Cell: the next standing, then !finding for a report, then ?refusal for a request.
    private const string Table =
        """
        from | work                                                  | hold | lift-hold | release                                                        | ship                                                                     | return                      | scrap | install
        P    | P                                                     | Ph   | P         | K                                                              | S !shipped-unreleased ?not-released                                      | R !returned-not-shipped     | X     | P
        K    | K !worked-on-after-end                                | Kh   | K         | K ?already-released                                            | S                                                                        | R !returned-not-shipped     | X     | K
        S    | S !worked-on-after-end                                | Sh   | S         | K !released-while-shipped ?already-shipped                     | S !shipped-twice ?already-shipped                                        | R                           | X     | S !component-not-on-site
        R    | P                                                     | Rh   | R         | K                                                              | S !shipped-unreleased ?not-released                                      | R !returned-not-shipped     | X     | R
        X    | X !worked-on-after-end                                | Xh   | X         | X !acted-on-after-scrap ?scrapped                              | X !acted-on-after-scrap ?scrapped                                        | X !acted-on-after-scrap     | X     | X !component-not-on-site
        Ph   | Ph !worked-on-while-held                              | Ph   | P         | Kh !released-on-hold ?on-hold                                  | Sh !shipped-unreleased !shipped-on-hold ?not-released ?on-hold           | Rh !returned-not-shipped    | Xh    | Ph !component-held
        Kh   | Kh !worked-on-while-held !worked-on-after-end         | Kh   | K         | Kh !released-on-hold ?already-released ?on-hold                | Sh !shipped-on-hold ?on-hold                                             | Rh !returned-not-shipped    | Xh    | Kh !component-held
        Sh   | Sh !worked-on-while-held !worked-on-after-end         | Sh   | S         | Kh !released-while-shipped !released-on-hold ?already-shipped ?on-hold | Sh !shipped-twice !shipped-on-hold ?already-shipped ?on-hold      | Rh                          | Xh    | Sh !component-not-on-site !component-held
        Rh   | Ph !worked-on-while-held                              | Rh   | R         | Kh !released-on-hold ?on-hold                                  | Sh !shipped-unreleased !shipped-on-hold ?not-released ?on-hold           | Rh !returned-not-shipped    | Xh    | Rh !component-held
        Xh   | Xh !worked-on-while-held !worked-on-after-end         | Xh   | X         | Xh !acted-on-after-scrap !released-on-hold ?scrapped ?on-hold  | Xh !acted-on-after-scrap !shipped-on-hold ?scrapped ?on-hold             | Xh !acted-on-after-scrap    | Xh    | Xh !component-not-on-site !component-held
        """;

    public static TheoryData<string, string, string> Cells()
    {
        var lines = Table.Split('\n').Select(l => l.Split('|', StringSplitOptions.TrimEntries)).ToArray();
        var data = new TheoryData<string, string, string>();
        foreach (var line in lines[1..])
        {
            for (var i = 1; i < line.Length; i++)
            {
                data.Add(line[0], lines[0][i], line[i]);
            }
        }

        return data;
    }

    [Fact]
    public void The_table_has_every_standing_and_every_act()
    {
        var cells = Cells().Select(c => ((string)c[0], (string)c[1])).ToArray();
        Assert.Equal(2 * Places.Count * Enum.GetValues<UnitAct>().Length, cells.Distinct().Count());
    }

    [Theory]
    [MemberData(nameof(Cells))]
    public void A_cell_is_as_the_table_says(string from, string act, string cell)
    {
        var (next, findings, refusals) = Read(cell);
        var answer = LifeCycle.Of(StandingOf(from), ActOf(act));
        Assert.Equal(next, answer.Next);
        Assert.Equal(findings, answer.Findings);
        Assert.Equal(refusals, answer.Refusals);
    }

    [Theory]
    [MemberData(nameof(Cells))]
    public void A_report_is_recorded_and_judged_as_the_table_says(string from, string act, string cell)
    {
        var (next, findings, _) = Read(cell);
        if (act == "install")
        {
            var parent = new UnitStory(Lamp).Routing(new RoutingBuilder("LAMP").Step("MARRY", s => s.Component("HEAD", "HEAD"))).Open();
            foreach (var fact in Past(Head, from))
            {
                parent.Know(fact);
            }

            Assert.Equal(findings.Order(StringComparer.Ordinal), KindsOf(parent.Done("MARRY", 100, s => s.Fitted("HEAD", Head))));
            return;
        }

        var story = new UnitStory(Lamp).Routing(new RoutingBuilder("LAMP").Step("TEST"));
        foreach (var fact in Past(Lamp, from))
        {
            story.Tell(fact);
        }

        var before = KindsOf(story);
        Tell(story, act);
        Assert.Equal(next, LifeCycle.At(story.ProductUnit, DateTimeOffset.MaxValue));
        Assert.Equal(next.Shown, story.Judgement.Status.Place);
        Assert.Equal(findings.Order(StringComparer.Ordinal), KindsOf(story).Except(before, StringComparer.Ordinal).Order(StringComparer.Ordinal));
    }

    [Theory]
    [MemberData(nameof(Cells))]
    public void Asking_for_a_release_is_refused_as_the_table_says(string from, string act, string cell)
    {
        if (act != "release")
        {
            return;
        }

        var story = new UnitStory(Lamp).Routing(new RoutingBuilder("LAMP").Step("TEST"));
        foreach (var fact in Past(Lamp, from))
        {
            story.Tell(fact);
        }

        var refusals = Release.Ask(new(story.ProductUnit, story.References, []), Some.At(200)).Select(b => b.Code).Where(c => c != "step-not-done");
        Assert.Equal(Read(cell).Refusals, refusals);
    }

    [Fact]
    public void The_table_agrees_with_the_status_of_any_history() => Histories.Facts.Sample(
        facts =>
        {
            var unit = ProductUnit.Of(Histories.Lamp, facts);
            Assert.Equal(Judge.Unit(unit, Histories.References).Status.Place, LifeCycle.At(unit, DateTimeOffset.MaxValue).Shown);
        },
        iter: 2_000);

    private static string[] KindsOf(UnitStory story) => [.. story.Judgement.Findings.Select(f => f.Kind).Order(StringComparer.Ordinal)];

    private static (Standing Next, string[] Findings, string[] Refusals) Read(string cell)
    {
        var parts = cell.Split(' ', StringSplitOptions.RemoveEmptyEntries);
        return (StandingOf(parts[0]), [.. parts.Where(p => p[0] == '!').Select(p => p[1..])], [.. parts.Where(p => p[0] == '?').Select(p => p[1..])]);
    }

    private static Standing StandingOf(string text) => new(Places[text[0]], text.EndsWith('h'));

    private static UnitAct ActOf(string text) => Enum.Parse<UnitAct>(text.Replace("-", string.Empty, StringComparison.Ordinal), ignoreCase: true);

    private static IEnumerable<Fact> Past(UnitKey unit, string standing)
    {
        yield return new UnitOpened(unit, null, [], null) { OccurredAt = Some.At(0) };
        if (standing[0] is 'K' or 'S' or 'R')
        {
            yield return new UnitReleased(unit) { OccurredAt = Some.At(1) };
        }

        if (standing[0] is 'S' or 'R')
        {
            yield return new UnitShipped(unit, "Fell End Supplies", "PO-1") { OccurredAt = Some.At(2) };
        }

        if (standing[0] == 'R')
        {
            yield return new UnitReturned(unit, "dim") { OccurredAt = Some.At(3) };
        }

        if (standing[0] == 'X')
        {
            yield return new UnitScrapped(unit, "cracked") { OccurredAt = Some.At(3) };
        }

        if (standing.EndsWith('h'))
        {
            yield return new UnitHeld(unit, "doubt") { OccurredAt = Some.At(4) };
        }
    }

    private static void Tell(UnitStory story, string act)
    {
        var at = Some.At(50);
        _ = act switch
        {
            "work" => story.Done("TEST", 50),
            "hold" => story.Tell(new UnitHeld(Lamp, "doubt") { OccurredAt = at }),
            "lift-hold" => story.Tell(new UnitHoldLifted(Lamp, "clear") { OccurredAt = at }),
            "release" => story.Tell(new UnitReleased(Lamp) { OccurredAt = at }),
            "ship" => story.Tell(new UnitShipped(Lamp, "Fell End Supplies", "PO-2") { OccurredAt = at }),
            "return" => story.Tell(new UnitReturned(Lamp, "dim") { OccurredAt = at }),
            "scrap" => story.Tell(new UnitScrapped(Lamp, "cracked") { OccurredAt = at }),
            _ => throw new ArgumentOutOfRangeException(nameof(act)),
        };
    }
}
