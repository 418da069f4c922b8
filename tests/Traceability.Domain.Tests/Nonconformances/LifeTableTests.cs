using Traceability.Domain.Facts;
using Traceability.Domain.Nonconformances;
using Traceability.Domain.Primitives;
using Traceability.Testing.Building;
using Xunit;

namespace Traceability.Domain.Tests.Nonconformances;

/// <summary>Every state of a nonconformance against everything that a person may decide about it.</summary>
public sealed class LifeTableTests
{
    private const double Now = 100;

    private static readonly string[] Commands = ["take up", .. Enum.GetNames<Disposition>()];

    // What follows: the next state, or the code of the refusal.
    private static readonly Dictionary<string, string[]> Table = new(StringComparer.Ordinal)
    {
        //                    take up                     Rework                     Repair                     UseAsIs                    Scrap                      ReturnToSupplier
        ["unknown"] =       ["nonconformance-unknown",  "nonconformance-unknown", "nonconformance-unknown", "nonconformance-unknown", "nonconformance-unknown", "nonconformance-unknown"],
        ["Open"] =          ["UnderDecision",           "Disposed",               "Disposed",               "Closed",                 "Disposed",               "Disposed"],
        ["Settled"] =       ["UnderDecision",           "Disposed",               "Disposed",               "Closed",                 "Disposed",               "Disposed"],
        ["UnderDecision"] = ["nonconformance-taken-up", "Disposed",               "Disposed",               "Closed",                 "Disposed",               "Disposed"],
        ["Disposed"] =      ["nonconformance-disposed", "Disposed",               "Disposed",               "Closed",                 "Disposed",               "Disposed"],
        ["Closed"] =        ["nonconformance-closed",   "nonconformance-closed",  "nonconformance-closed",  "nonconformance-closed",  "nonconformance-closed",  "nonconformance-closed"],
        ["Moot"] =          ["nonconformance-moot",     "nonconformance-moot",    "nonconformance-moot",    "nonconformance-moot",    "nonconformance-moot",    "nonconformance-moot"],
    };

    public static IEnumerable<object[]> Cells => Table.Keys.SelectMany(_ => Commands, (state, command) => new object[] { state, command });

    [Fact]
    public void The_table_has_every_state_and_every_command()
    {
        Assert.Equal(Enum.GetNames<NonconformanceState>().Append("unknown").Order(StringComparer.Ordinal), Table.Keys.Order(StringComparer.Ordinal));
        Assert.All(Table.Values, row => Assert.Equal(Commands.Length, row.Length));
    }

    [Theory]
    [MemberData(nameof(Cells))]
    public void What_a_person_may_decide_depends_on_the_state(string state, string command)
    {
        var (story, id) = In(state);
        var expected = Table[state][Commands.IndexOf(command)];
        Fact fact = command switch
        {
            "take up" => Lamp.TakeUp(id, Now),
            nameof(Disposition.Rework) or nameof(Disposition.Repair) => Lamp.Dispose(id, Enum.Parse<Disposition>(command), Now, null, "WIRE"),
            nameof(Disposition.UseAsIs) => Lamp.Dispose(id, Disposition.UseAsIs, Now, Lamp.Wide),
            _ => Lamp.Dispose(id, Enum.Parse<Disposition>(command), Now),
        };

        if (story.Check(fact) is { } refusal)
        {
            Assert.Equal(expected, refusal.Code);
            Assert.Equal("/nonconformance", Assert.Single(refusal.Faults).Pointer);
            Assert.Equal(state == "unknown" ? RefusalKind.Unknown : RefusalKind.Contradiction, refusal.Kind);
        }
        else
        {
            Assert.Equal(expected, story.Tell(fact).Find(id).State.ToString());
        }
    }

    private static (UnitStory Story, NonconformanceId Id) In(string state)
    {
        var story = Lamp.Given.Wired(0, passed: state == "unknown");
        var record = story.LastId;
        var id = story.Last("check-failed", "POLARITY");
        switch (state)
        {
            case nameof(NonconformanceState.Settled):
                story.Wired(5);
                break;
            case nameof(NonconformanceState.UnderDecision):
                story.TakenUp(10, id);
                break;
            case nameof(NonconformanceState.Disposed):
                story.Disposed(10, id, Disposition.Rework, null, "WIRE");
                break;
            case nameof(NonconformanceState.Closed):
                story.Disposed(10, id, Disposition.Rework, null, "WIRE").Wired(20, isRework: true);
                break;
            case nameof(NonconformanceState.Moot):
                story.Disposed(10, id, Disposition.Scrap).Void(record, 20);
                break;
        }

        Assert.Equal(state, story.Judgement.Nonconformances.SingleOrDefault(n => n.Id == id)?.State.ToString() ?? "unknown");
        return (story, id);
    }
}
