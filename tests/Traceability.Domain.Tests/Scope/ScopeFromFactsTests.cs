using Traceability.Domain.Facts;
using Traceability.Domain.Primitives;
using Traceability.Domain.ProductUnits;
using Traceability.Domain.Scope;
using Traceability.Testing.Scope;
using Traceability.Testing.Scope.Facts;
using Xunit;

namespace Traceability.Domain.Tests.Scope;

/// <summary>What random histories found, each as small as it gets: facts, and what a scope must say of them.</summary>
public sealed class ScopeFromFactsTests
{
    private static readonly FactHistory Works = FactHistory.From([], 0);
    private static readonly UnitKey Sub = new(Works.Plant.Sub, SerialNumber.Parse("2"));
    private static readonly UnitKey OtherSub = new(Works.Plant.Sub, SerialNumber.Parse("3"));
    private static readonly UnitKey Top = new(Works.Plant.Top, SerialNumber.Parse("4"));
    private static readonly PersonCode Person = Works.Plant.People[0];
    private static readonly SuspectTool Tool = new(Works.Plant.Tool, null, ToolTimes.All);

    [Fact]
    public void While_no_record_that_counts_tells_when_a_unit_was_opened_its_first_step_may_have_begun_at_any_time_before()
    {
        var work = new SuspectWork(Works.Plant.Sub, null, null, null) { Filter = new(null, RandomGenealogy.At(3), null, null) };
        var bond = Completed(Sub, Plant.Bond, 6);

        Assert.Empty(Find(work, Opened(Sub, 4), (Sub, bond)));
        Assert.Equal(["SUB/2 Possible"], Find(work, Opened(Sub, 4), (Sub, bond), (Sub, Void(1))));
        Assert.Equal(["SUB/2 Possible"], Find(work, Opened(Sub, 4), (Sub, bond), (Sub, Void(1)), (Sub, Void(2))));
    }

    [Fact]
    public void A_step_that_a_later_one_needed_is_missing_still_when_the_unit_has_moved_to_another_revision()
    {
        // Under B nothing is done yet, so nothing of B needs it.
        (UnitKey, Fact)[] told = [Opened(Sub, 0), (Sub, Completed(Sub, Plant.Screw, 6)), Moved(8)];

        Assert.Equal(["SUB/2 Possible"], Find(Tool, told));
        Assert.Equal(["SUB/2 Possible"], Find(new SuspectWork(null, null, Plant.Revisions[0], Person) { Filter = At(Plant.Bond) }, told));
        Assert.Empty(Find(new SuspectWork(null, null, Plant.Revisions[1], Person) { Filter = At(Plant.Bond) }, told));
    }

    [Fact]
    public void A_step_that_was_carried_over_and_is_not_recorded_may_have_been_done_as_either_revision_asks()
    {
        // Only A asks for a tool at bonding.
        var tool = Tool with { Filter = At(Plant.Bond) };

        Assert.Equal(["SUB/2 Possible"], Find(tool, Opened(Sub, 0), Moved(3, Plant.Bond), (Sub, Completed(Sub, Plant.Screw, 6))));
        Assert.Empty(Find(tool, Opened(Sub, 0), Moved(3), (Sub, Completed(Sub, Plant.Screw, 6))));
    }

    [Fact]
    public void A_void_record_is_not_made_good_by_a_record_under_another_revision()
    {
        var tool = Tool with { Filter = At(Plant.Bond) };

        Assert.Equal(["SUB/2 Possible"], Find(tool, Opened(Sub, 0), (Sub, Completed(Sub, Plant.Bond, 2)), (Sub, Void(2)), Moved(3), (Sub, Completed(Sub, Plant.Bond, 5))));
        Assert.Empty(Find(
            tool,
            Opened(Sub, 0),
            (Sub, Completed(Sub, Plant.Bond, 2)),
            (Sub, Void(2)),
            (Sub, Completed(Sub, Plant.Bond, 2) with { Tools = [new(Works.Plant.OtherTool, null, null)] }),
            Moved(3),
            (Sub, Completed(Sub, Plant.Bond, 5))));
    }

    [Fact]
    public void Where_a_record_cannot_be_read_every_revision_may_have_been_the_one_that_it_was_made_under()
    {
        var unreadable = new UnreadableFact("step_completed", "unknown member") { OccurredAt = RandomGenealogy.At(12) };

        Assert.Equal(["SUB/2 Possible"], Find(Tool with { Filter = At(Plant.Bond) }, Opened(Sub, 0), Moved(3), (Sub, unreadable)));
    }

    [Fact]
    public void A_record_that_cannot_be_read_may_have_put_something_in_where_something_else_is_recorded()
    {
        var married = Completed(Top, Plant.Marry, 4) with { Components = [new(Plant.First, OtherSub)] };
        var unreadable = new UnreadableFact("component_installed", "unknown member") { OccurredAt = RandomGenealogy.At(12) };
        (UnitKey, Fact)[] told = [Opened(Sub, 0), Opened(OtherSub, 0), Opened(Top, 0), (Top, married)];

        Assert.Equal(["SUB/2 Proven"], Find(new SuspectComponent(Sub), told));
        Assert.Equal(["SUB/2 Proven", "TOP/4 Possible"], Find(new SuspectComponent(Sub), [.. told, (Top, unreadable)]));
    }

    [Fact]
    public void What_was_taken_out_had_been_in_though_no_record_tells_that_it_was_put_in()
    {
        var married = Completed(Top, Plant.Seal, 4);
        var installed = new ComponentInstalled(Top, Plant.First, OtherSub, Plant.Marry) { OccurredAt = RandomGenealogy.At(3) };
        var removed = new ComponentRemoved(Top, Plant.First, Sub, "worn") { OccurredAt = RandomGenealogy.At(3) };
        (UnitKey, Fact)[] told = [Opened(Sub, 0), Opened(OtherSub, 0), Opened(Top, 0), (Top, married), (Top, installed)];

        Assert.Equal(["SUB/2 Proven"], Find(new SuspectComponent(Sub), told));
        Assert.Equal(["SUB/2 Proven", "TOP/4 Possible"], Find(new SuspectComponent(Sub), [.. told, (Top, removed)]));
    }

    [Fact]
    public void Putting_a_component_in_outside_a_step_is_no_work_at_a_step_and_reaches_by_the_component()
    {
        var installed = new ComponentInstalled(Top, Plant.Extra, Sub, null) { OccurredAt = RandomGenealogy.At(3), Person = Person, Station = Plant.Stations[0] };
        (UnitKey, Fact)[] told = [Opened(Sub, 0), Opened(Top, 0), (Top, installed)];

        Assert.Empty(Find(new SuspectWork(null, null, null, Person), told));
        Assert.Equal(["SUB/2 Proven", "TOP/4 Proven"], Find(new SuspectComponent(Sub), told));
    }

    [Theory]
    [InlineData(0, 5, "SUB/2 Proven")]
    [InlineData(1, 5, "SUB/2 Proven")]
    [InlineData(2, 5, "SUB/2 Proven", "TOP/4 Possible")]
    [InlineData(1, 8, "SUB/2 Proven", "TOP/4 Proven")]
    [InlineData(2, 8, "SUB/2 Proven", "TOP/4 Possible")]
    public void Where_a_clock_in_doubt_told_when_a_component_was_taken_out_it_may_have_been_in_for_longer_or_less(int uncertainty, int removed, params string[] expected)
    {
        var clock = new ClockReading(TimeSpan.Zero, TimeSpan.FromMinutes(uncertainty), Doubtful: false);
        var installed = new ComponentInstalled(Top, Plant.Extra, Sub, null) { OccurredAt = RandomGenealogy.At(1) };
        var takenOut = new ComponentRemoved(Top, Plant.Extra, Sub, "worn") { OccurredAt = RandomGenealogy.At(removed), Clock = clock };
        var tool = Completed(Sub, Plant.Screw, 6) with { StartedAt = RandomGenealogy.At(6), Tools = [new(Works.Plant.Tool, Plant.Settings[0], null)] };

        Assert.Equal(expected, Find(Tool with { Filter = At(Plant.Screw) }, Opened(Sub, 0), Opened(Top, 0), (Top, installed), (Top, takenOut), (Sub, tool)));
    }

    private static string[] Find(Suspect suspect, params (UnitKey Unit, Fact Fact)[] told)
    {
        var history = Works.Instead(told);
        return [.. history.Search(suspect, history.Judge()).Members.Select(m => $"{m.Unit} {m.Verdict}")];
    }

    private static UseFilter At(StepCode step) => new(null, null, step, null);

    private static (UnitKey, Fact) Opened(UnitKey unit, int minute) => (unit, new UnitOpened(unit, null, [], null) { OccurredAt = RandomGenealogy.At(minute) });

    private static (UnitKey, Fact) Moved(int minute, params StepCode[] carriesOver) =>
        (Sub, new UnitMovedToRevision(Sub, Plant.Revisions[1], [.. carriesOver], "change", Person) { OccurredAt = RandomGenealogy.At(minute) });

    // Names nothing but what no question here is about.
    private static StepCompleted Completed(UnitKey unit, StepCode step, int minute) => new(
        unit, step, null, false, [], [], step == Plant.Screw ? [new(Works.Plant.OtherTool, null, null)] : [], [], [], [], [], null)
    {
        OccurredAt = RandomGenealogy.At(minute), Person = Works.Plant.People[1], Station = Plant.Stations[0],
    };

    private static RecordVoided Void(int ordinal) =>
        new(new(ordinal, 5, 5, new byte[8]), "mistaken", Person) { OccurredAt = RandomGenealogy.At(20 + ordinal) };
}
