using CsCheck;
using Traceability.Domain.Judging;
using Traceability.Domain.Primitives;
using Traceability.Domain.ProductUnits;
using Traceability.Testing.Building;
using Xunit;

namespace Traceability.Domain.Tests.Judging;

/// <summary>A hold may have a name; lifting one leaves the others standing.</summary>
public sealed class HoldTests
{
    private static readonly UnitKey Lamp = Some.Unit("LAMP", "1");

    private static UnitStory Given => new UnitStory(Lamp).Routing(new RoutingBuilder("LAMP").Step("WIRE").Step("TEST")).Open();

    [Fact]
    public void Lifting_one_hold_leaves_another_standing()
    {
        var story = Given.Tell(Held("CASE-1", 1)).Tell(Held("CASE-2", 2)).Tell(Held(null, 3));
        Assert.Equal((Place.OnHold, "* CASE-1 CASE-2"), Status(story));
        Assert.Equal((Place.OnHold, "* CASE-2"), Status(story.Tell(Lifted("CASE-1", 4))));
        Assert.Equal((Place.OnHold, "CASE-2"), Status(story.Tell(Lifted(null, 5))));
        Assert.Equal((Place.InProcess, null), Status(story.Tell(Lifted("CASE-2", 6))));
    }

    [Fact]
    public void A_hold_placed_twice_is_one_hold() =>
        Assert.Equal((Place.InProcess, null), Status(Given.Tell(Held("CASE-1", 1)).Tell(Held("CASE-1", 2)).Tell(Lifted("CASE-1", 3))));

    [Fact]
    public void A_lifting_that_names_another_hold_or_none_lifts_nothing() =>
        Assert.Equal((Place.OnHold, "CASE-1"), Status(Given.Tell(Held("CASE-1", 1)).Tell(Lifted("CASE-9", 2)).Tell(Lifted(null, 3))));

    [Fact]
    public void A_void_of_a_hold_leaves_the_other_one()
    {
        var story = Given.Tell(Held("CASE-1", 1));
        var first = story.LastId;
        Assert.Equal((Place.OnHold, "CASE-2"), Status(story.Tell(Held("CASE-2", 2)).Void(first)));
    }

    [Fact]
    public void A_hold_on_what_has_left_is_told_and_stops_nothing() =>
        Assert.Equal((Place.Shipped, "CASE-1"), Status(Given.Tell(new UnitShipped(Lamp, "Fell End Supplies", null) { OccurredAt = Some.At(1) }).Tell(Held("CASE-1", 2))));

    [Fact]
    public void Work_is_found_while_any_hold_stands() =>
        Given.Tell(Held("CASE-1", 1)).Tell(Held(null, 2)).Tell(Lifted(null, 3)).Done("WIRE", 5)
            .Tell(Lifted("CASE-1", 6)).Done("TEST", 10)
            .ShouldFind("worked-on-while-held");

    [Fact]
    public void A_shipment_is_found_while_any_hold_stands()
    {
        var story = Given.Released(1).Tell(Held("CASE-1", 2)).Tell(Held("CASE-2", 3)).Tell(Lifted("CASE-1", 4))
            .Tell(new UnitShipped(Lamp, "Fell End Supplies", null) { OccurredAt = Some.At(5) });
        Assert.Contains(story.Judgement.Findings, f => f.Kind == FindingKinds.ShippedOnHold);
        Assert.Equal(new Standing(Place.Shipped, IsHeld: true), LifeCycle.At(ProductUnit.Of(Lamp, [.. story.Facts]), DateTimeOffset.MaxValue));
    }

    [Fact]
    public void A_component_is_found_held_while_any_hold_on_it_stands()
    {
        var head = Some.Unit("HEAD", "H1");
        var lamp = new UnitStory(Lamp)
            .Routing(new RoutingBuilder("LAMP").Step("MARRY", s => s.Component("HEAD", "HEAD", mustBeReleased: true)))
            .Component(head, releasedAt: -100)
            .Open();
        lamp.Know(new UnitHeld(head, "recall") { OccurredAt = Some.At(-50), Hold = Code.Parse("CASE-1") })
            .Know(new UnitHeld(head, "scratch") { OccurredAt = Some.At(-40) })
            .Know(new UnitHoldLifted(head, "polished") { OccurredAt = Some.At(-30) })
            .Done("MARRY", 0, s => s.Fitted("HEAD", head))
            .ShouldFind("component-held HEAD");
    }

    [Fact]
    public void Whatever_is_placed_and_lifted_those_stand_that_were_placed_and_not_lifted_since() =>
        Gen.Select(Gen.Int[0, 3], Gen.Bool).Array[0, 12].Sample(acts =>
        {
            // Against a plain set; 0 is the hold without a name.
            var (holds, model) = (default(StandingHolds), new SortedSet<string>(StringComparer.Ordinal));
            foreach (var (number, isPlaced) in acts)
            {
                var name = number == 0 ? null : $"CASE-{number}";
                holds.Take(isPlaced ? Held(name, 1) : Lifted(name, 1));
                _ = isPlaced ? model.Add(name ?? StandingHolds.Unnamed) : model.Remove(name ?? StandingHolds.Unnamed);
                Assert.Equal(model.Contains(name ?? StandingHolds.Unnamed), holds.Has(name is null ? null : Code.Parse(name)));
            }

            Assert.Equal((model.Count > 0, model.Count == 0 ? null : string.Join(' ', model)), (holds.IsAny, holds.Text));
        });

    private static UnitHeld Held(string? hold, double at) => new(Lamp, "doubt") { OccurredAt = Some.At(at), Hold = hold is null ? null : Code.Parse(hold) };

    private static UnitHoldLifted Lifted(string? hold, double at) => new(Lamp, "clear") { OccurredAt = Some.At(at), Hold = hold is null ? null : Code.Parse(hold) };

    private static (Place Place, string? Holds) Status(UnitStory story) => (story.Judgement.Status.Place, story.Judgement.Status.Holds);
}
