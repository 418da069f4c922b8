using Traceability.Domain.Items;
using Traceability.Domain.Judging;
using Traceability.Domain.Primitives;
using Traceability.Domain.Routings;
using Traceability.Testing.Building;
using Xunit;

namespace Traceability.Domain.Tests.Judging;

public sealed class FittingTests
{
    private static readonly UnitKey Lamp = Some.Unit("LAMP", "1");

    // Select-fit: shim = depth - width, within 0.02 mm.
    private static UnitStory Measured(decimal? depthU = 0.003m, decimal? widthU = 0.004m, decimal guardBand = 0m) => new UnitStory(Lamp).Routing(new RoutingBuilder("LAMP")
            .Step("DEPTH", s => s.Measure("DEPTH", "mm"))
            .Step("WIDTH", s => s.Measure("WIDTH", "mm"))
            .Step("SHIM", s => s.Measure("SHIM", "mm", Fit(-0.02m), Fit(0.02m), guardBand).Measure("FREE", "mm", null, Fit(0.1m)).Check("CLEAN", isRequired: false)))
        .Open()
        .Done("DEPTH", 0, s => s.Measured("DEPTH", 1.25m, "cm", depthU / 10m))
        .Done("WIDTH", 5, s => s.Measured("WIDTH", 12m, "mm", widthU));

    private static Limit Fit(decimal tolerance) => new(tolerance, [
        new(1m, null, Some.Step("DEPTH"), Some.Code("DEPTH")),
        new(-1m, null, Some.Step("WIDTH"), Some.Code("WIDTH")),
    ]);

    private static FitWindow Window(UnitStory story, string characteristic = "SHIM") =>
        Fitting.Window(story.ProductUnit, story.References, new(Some.Step("SHIM"), null, null, [], [], [], Some.At(10)), Some.Code(characteristic))!;

    private static FitCandidate Size(string name, decimal value, string unit = "mm", decimal? u = null) => new(name, null, null, new(value, unit), u);

    [Fact]
    public void The_window_is_that_of_the_rule_with_its_propagated_uncertainty()
    {
        var window = Window(Measured());
        Assert.Equal((0.48m, 0.52m, 0.50m, true), (window.Lower!.Value, window.Upper!.Value, window.Middle, window.IsKnown));

        // 3 and 4 micrometres make 5 (JCGM 100, 5.1.2); the depth was entered in centimetres.
        Assert.Equal(0.005, window.Lower.StandardUncertainty!.Value, 12);
        Assert.True(window.Lower.IsUncertaintyComplete);
        Assert.Equal([12.5m, -12m], window.Lower.Inputs.Select(i => i.Contribution));
    }

    [Fact]
    public void An_input_without_uncertainty_counts_as_exact_and_that_is_said()
    {
        var window = Window(Measured(widthU: null));
        Assert.Equal(0.003, window.Upper!.StandardUncertainty!.Value, 12);
        Assert.False(window.Upper.IsUncertaintyComplete);
    }

    [Fact]
    public void While_an_input_is_missing_the_window_is_not_known_and_nothing_is_said_to_fit()
    {
        var story = new UnitStory(Lamp).Routing(new RoutingBuilder("LAMP").Step("DEPTH", s => s.Measure("DEPTH", "mm")).Step("WIDTH").Step("SHIM", s => s.Measure("SHIM", "mm", Fit(-0.02m), Fit(0.02m))))
            .Open().Done("DEPTH", 0, s => s.Measured("DEPTH", 12.5m, "mm"));
        var window = Window(story);
        Assert.False(window.IsKnown);
        Assert.Single(window.Lower!.Inputs);
        var ranked = Assert.Single(Fitting.Rank(window, [Size("S50", 0.5m)]));
        Assert.False(ranked.Fits);
        Assert.Null(ranked.Margin);
    }

    [Fact]
    public void A_check_and_a_step_that_is_not_there_have_no_window()
    {
        Assert.Null(Window(Measured(), "CLEAN"));
        Assert.Null(Window(Measured(), "NONE"));
    }

    [Fact]
    public void Candidates_are_ranked_by_how_far_they_lie_inside()
    {
        var ranked = Fitting.Rank(Window(Measured()), [Size("S46", 0.46m), Size("S53", 0.053m, "cm"), Size("S49", 0.49m, u: 0.012m), Size("S51", 510m, "um"), Size("S48", 0.48m), Size("BAD", 1m, "g")]);

        Assert.Equal(["S49", "S51", "S48", "S53", "S46", "BAD"], ranked.Select(r => r.Candidate.Name));
        Assert.Equal([0.01m, 0.01m, 0m, -0.01m, -0.02m, null], ranked.Select(r => r.Margin));
        Assert.Equal([true, true, true, false, false, false], ranked.Select(r => r.Fits));

        // 5 and 12 make 13.
        Assert.Equal(0.013, ranked[0].StandardUncertainty!.Value, 12);
        Assert.Equal((true, false), (ranked[0].IsUncertaintyComplete, ranked[1].IsUncertaintyComplete));
    }

    [Fact]
    public void A_guard_band_narrows_the_window_and_one_limit_leaves_one_margin()
    {
        Assert.Equal([0.005m, -0.005m], Fitting.Rank(Window(Measured(guardBand: 0.005m)), [Size("S49", 0.49m), Size("S48", 0.48m)]).Select(r => r.Margin));
        Assert.Equal([0.5m], Fitting.Rank(Window(Measured(), "FREE"), [Size("S10", 0.1m)]).Select(r => r.Margin));
    }

    [Fact]
    public void What_fits_by_proposal_is_what_the_rule_passes_afterwards()
    {
        for (var thickness = 0.470m; thickness <= 0.530m; thickness += 0.001m)
        {
            var fits = Fitting.Rank(Window(Measured()), [Size("S", thickness)])[0].Fits;
            var judgement = Measured().Done("SHIM", 10, s => s.Measured("SHIM", thickness, "mm").Measured("FREE", 0m, "mm")).Judgement;
            Assert.Equal(fits, judgement.Steps[^1].Passed);
        }
    }

    [Fact]
    public void A_value_that_enters_twice_is_one_input()
    {
        // 2 x - 1 x of the same value is 1 x of it, also in its uncertainty.
        var limit = new Limit(0m, [new(2m, null, Some.Step("DEPTH"), Some.Code("DEPTH")), new(-1m, null, Some.Step("DEPTH"), Some.Code("DEPTH"))]);
        var story = new UnitStory(Lamp).Routing(new RoutingBuilder("LAMP").Step("DEPTH", s => s.Measure("DEPTH", "mm")).Step("SHIM", s => s.Measure("SHIM", "mm", limit, null)))
            .Open().Done("DEPTH", 0, s => s.Measured("DEPTH", 12.5m, "mm", 0.004m));
        var window = Window(story);
        Assert.Equal(12.5m, window.Lower!.Value);
        Assert.Equal(0.004, window.Lower.StandardUncertainty!.Value, 12);
    }

    [Fact]
    public void An_uncertainty_is_a_difference_and_converts_as_one()
    {
        // 0.5 Cel of uncertainty is 0.5 K, not 273.65 K.
        var limit = new Limit(0m, [new(1m, null, Some.Step("DEPTH"), Some.Code("WARM"))]);
        var story = new UnitStory(Lamp).Routing(new RoutingBuilder("LAMP").Step("DEPTH", s => s.Measure("WARM", "Cel")).Step("SHIM", s => s.Measure("SHIM", "K", limit, null)))
            .Open().Done("DEPTH", 0, s => s.Measured("WARM", 20m, "Cel", 0.5m));
        var window = Window(story);
        Assert.Equal(293.15m, window.Lower!.Value);
        Assert.Equal(0.5, window.Lower.StandardUncertainty!.Value, 12);
    }

    [Fact]
    public void A_judgement_tells_the_records_that_a_limit_was_derived_from()
    {
        var story = Measured().Done("SHIM", 10, s => s.Measured("SHIM", 0.6m, "mm").Measured("FREE", 0m, "mm"));
        var (depth, width) = (story.Facts[1].Id, story.Facts[2].Id);
        var finding = story.ShouldFind("value-out-of-limits SHIM").Only("value-out-of-limits");
        Assert.Equal($"LAMP/1 DEPTH/DEPTH = 1.25 cm, record {depth}", finding.Evidence["limit-input"]);
        Assert.Equal($"LAMP/1 WIDTH/WIDTH = 12 mm, record {width}", finding.Evidence["limit-input-2"]);

        var limits = DerivedLimits.Of(story.ProductUnit, story.References);
        Assert.Equal(["SHIM", "FREE"], limits.Select(l => l.Characteristic.ToString()));
        Assert.Equal([depth, width], limits[0].Upper!.Inputs.Select(i => i.Record));
        Assert.Equal((0.48m, 0.52m, story.LastId), (limits[0].Lower!.Value, limits[0].Upper!.Value, limits[0].Record));
        Assert.Null(limits[1].Lower);
    }

    [Fact]
    public void A_corrected_input_moves_the_limit_and_the_judgement_of_the_step_follows()
    {
        var story = Measured().Done("SHIM", 10, s => s.Measured("SHIM", 0.6m, "mm").Measured("FREE", 0m, "mm"));
        Assert.False(story.Judgement.Steps[^1].Passed);
        story.Correct(story.Facts[1].Id, new StepRecord(Lamp, "DEPTH", Some.At(0)).Measured("DEPTH", 12.6m, "mm").Fact);
        Assert.True(story.ShouldFind().Steps[^1].Passed);
        Assert.Equal(0.62m, DerivedLimits.Of(story.ProductUnit, story.References)[0].Upper!.Value);
    }

    [Fact]
    public void A_corrected_input_on_a_component_does_the_same()
    {
        var head = Some.Unit("HEAD", "H1");
        var weighed = new StepRecord(head, "WEIGH", Some.At(-500)).Measured("MASS", 40m, "g").Fact;
        var mass = new Limit(0m, [new(1m, Some.Code("HEAD"), Some.Step("WEIGH"), Some.Code("MASS"))]);
        UnitStory Matched() => new UnitStory(Lamp)
            .Routing(new RoutingBuilder("LAMP").Step("MARRY", s => s.Component("HEAD", "HEAD")).Step("MATCH", s => s.Measure("BASE", "g", null, mass)))
            .Item("HEAD", ItemKind.Subassembly)
            .Component(head).Know(weighed)
            .Open().Done("MARRY", 0, s => s.Fitted("HEAD", head)).Done("MATCH", 5, s => s.Measured("BASE", 45m, "g"));

        var before = Matched();
        Assert.Equal("HEAD/H1 WEIGH/MASS = 40 g, record 00000005-0000-0000-0000-000000000000", before.ShouldFind("value-out-of-limits BASE").Findings[0].Evidence["limit-input"]);
        var record = before.Streams["unit/HEAD/H1"][^1].Id;
        before.KnowIn("unit/HEAD/H1", new Domain.Facts.RecordCorrected(record, weighed with { Measurements = [new(Some.Code("MASS"), 50m, "g")] }, "misread", Some.Quality) { OccurredAt = Some.At(100) }).ShouldFind();
        Assert.Equal(head, Assert.Single(DerivedLimits.Of(before.ProductUnit, before.References)[0].Upper!.Inputs).Unit);
    }

    [Fact]
    public void The_value_of_a_mate_is_the_last_that_counts_by_then()
    {
        var mate = Some.Unit("HEAD", "H1");
        var story = new UnitStory(mate).Open().Done("WEIGH", 0, s => s.Measured("MASS", 40m, "g", 0.1m)).Done("WEIGH", 10, s => s.Measured("MASS", 41m, "g"));
        Assert.Equal((new EnteredQuantity(40m, "g"), 0.1m), (At(5)!.Value, At(5)!.StandardUncertainty));
        Assert.Equal(new EnteredQuantity(41m, "g"), At(10)!.Value);
        Assert.Null(At(-1));
        story.Void(story.LastId);
        Assert.Equal(new EnteredQuantity(40m, "g"), At(10)!.Value);

        FitCandidate? At(double minutes) => Fitting.Measured(story.ProductUnit, Some.Step("WEIGH"), Some.Code("MASS"), Some.At(minutes));
    }
}
