using Traceability.Domain.Judging;
using Traceability.Domain.Primitives;
using Traceability.Domain.ProductUnits;
using Traceability.Domain.Sites;
using Traceability.Testing.Building;
using Xunit;

namespace Traceability.Domain.Tests.Judging;

public sealed class StatusTests
{
    private static readonly UnitKey Lamp = Some.Unit("LAMP", "1");

    private static UnitStory Given => new UnitStory(Lamp)
        .Routing(new RoutingBuilder("LAMP").Step("WIRE", s => s.Check("POLARITY")).Step("TEST").Step("COAT", s => s.AppliesTo(StepBuilder.Variants("C"))))
        .Open("P");

    [Fact]
    public void A_unit_goes_from_process_to_stock_to_its_consignee_and_back()
    {
        var story = Given;
        Assert.Equal((Place.InProcess, null, Some.At(-1_000)), Where(story));
        Assert.Equal((Place.InProcess, Some.Step("WIRE"), Some.At(-2)), Where(story.Started("WIRE", -2)));
        Assert.Equal((Place.InProcess, Some.Step("WIRE"), Some.At(-2)), Where(story.Done("WIRE", 0)));
        Assert.Equal((Place.InStock, null, Some.At(10)), Where(story.Released(10)));
        story.Tell(new UnitShipped(Lamp, "Fell End Supplies", "PO-7") { OccurredAt = Some.At(20) });
        Assert.Equal((Place.Shipped, null, Some.At(20)), Where(story));
        Assert.Equal("Fell End Supplies", story.Judgement.Status.Consignee);
        story.Tell(new UnitReturned(Lamp, "dim") { OccurredAt = Some.At(30) });
        Assert.Equal((Place.Returned, null, Some.At(30)), Where(story));
        Assert.Null(story.Judgement.Status.Consignee);
        Assert.Equal((Place.InProcess, Some.Step("WIRE"), Some.At(40)), Where(story.Done("WIRE", 40)));
    }

    [Fact]
    public void A_hold_wins_over_process_and_stock_until_it_is_lifted()
    {
        var story = Given.Done("WIRE", 0).Tell(new UnitHeld(Lamp, "leak") { OccurredAt = Some.At(5) });
        Assert.Equal((Place.OnHold, Some.Step("WIRE"), Some.At(5)), Where(story));
        Assert.Equal(Place.OnHold, story.Released(10).Judgement.Status.Place);
        Assert.Equal((Place.InStock, null, Some.At(15)), Where(story.Tell(new UnitHoldLifted(Lamp, "fine") { OccurredAt = Some.At(15) })));
    }

    [Fact]
    public void What_has_left_is_not_on_hold_here() =>
        Assert.Equal(Place.Shipped, Given.Tell(new UnitShipped(Lamp, "Fell End Supplies", null) { OccurredAt = Some.At(1) })
            .Tell(new UnitHeld(Lamp, "recall") { OccurredAt = Some.At(2) }).Judgement.Status.Place);

    [Fact]
    public void Scrap_stays_scrap() =>
        Assert.Equal(Place.Scrapped, Given.Tell(new UnitScrapped(Lamp, "cracked") { OccurredAt = Some.At(1) }).Released(2).Judgement.Status.Place);

    [Fact]
    public void A_unit_whose_every_step_passed_at_first_passed_first_time()
    {
        Assert.True(Given.Done("WIRE", 0, s => s.Checked("POLARITY")).Done("TEST", 5).Released(10).Judgement.Status.PassedFirstTime);
        Assert.False(Given.Done("WIRE", 0, s => s.Checked("POLARITY")).Done("TEST", 5).Judgement.Status.PassedFirstTime);
        Assert.False(Given.Done("WIRE", 0, s => s.Checked("POLARITY")).Released(10).Judgement.Status.PassedFirstTime);
        Assert.False(Given.Done("WIRE", 0, s => s.Checked("POLARITY", passed: false)).Done("WIRE", 2, s => s.Checked("POLARITY")).Done("TEST", 5).Released(10).Judgement.Status.PassedFirstTime);
    }

    [Fact]
    public void A_retest_keeps_a_first_pass_and_a_rework_does_not()
    {
        Assert.True(Given.Done("WIRE", 0, s => s.Checked("POLARITY")).Done("TEST", 5).Done("TEST", 6).Released(10).Judgement.Status.PassedFirstTime);
        Assert.False(Given.Done("WIRE", 0, s => s.Checked("POLARITY")).Done("TEST", 5).Done("TEST", 6, s => s.Rework()).Released(10).Judgement.Status.PassedFirstTime);
    }

    [Fact]
    public void A_repair_after_its_return_does_not_restate_how_it_was_built() =>
        Assert.True(Given.Done("WIRE", 0, s => s.Checked("POLARITY")).Done("TEST", 5).Released(10)
            .Tell(new UnitReturned(Lamp, "dim") { OccurredAt = Some.At(20) }).Done("TEST", 30, s => s.Rework()).Judgement.Status.PassedFirstTime);

    [Theory]
    [InlineData("Pacific/Auckland", 3)]
    [InlineData("America/Los_Angeles", 2)]
    [InlineData("No/Such_Zone", 2)]
    public void Days_are_calendar_days_of_the_site(string zone, int day)
    {
        // Noon UTC is 01:00 of the next day in Auckland (UTC+13 in March), 04:00 in Los Angeles; a bad zone counts as UTC.
        var judgement = Given.Know(new SiteDefined(SiteCode.Parse("S"), "site", zone) { OccurredAt = Some.At(-9_000) })
            .Know(new StationDefined(Some.Station, SiteCode.Parse("S"), "bench") { OccurredAt = Some.At(-9_000) })
            .Done("WIRE", 0, s => s.Checked("POLARITY")).Released(0.5).Judgement;
        Assert.Equal(new DateOnly(2026, 3, day), judgement.Steps[0].Day);
        Assert.Equal(new DateOnly(2026, 3, day), judgement.Status.EndedDay);
    }

    [Fact]
    public void A_start_that_the_completion_does_not_tell_is_the_last_reported_one_since_the_attempt_before()
    {
        var steps = Given.Started("WIRE", -9).Started("WIRE", -4).Done("WIRE", 0, s => s.Started(null)).Done("WIRE", 5, s => s.Started(null)).Judgement.Steps;
        Assert.Equal([Some.At(-4), null], steps.Select(s => s.StartedAt));
        Assert.Equal([1, 2], steps.Select(s => s.Attempt));
    }

    [Fact]
    public void Opening_a_unit_twice_is_found_and_the_first_opening_counts()
    {
        var judgement = Given.Open("C", at: -500).ShouldFind("unit-opened-twice");
        Assert.Equal(VariantCode.Parse("P"), judgement.Status.Variant);
    }

    private static (Place Place, StepCode? Step, DateTimeOffset? Since) Where(UnitStory story)
    {
        var status = story.Judgement.Status;
        return (status.Place, status.Step, status.Since);
    }
}
