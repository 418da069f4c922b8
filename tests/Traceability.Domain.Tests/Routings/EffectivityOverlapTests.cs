using System.Collections.Immutable;
using CsCheck;
using Traceability.Domain.Primitives;
using Traceability.Domain.Routings;
using Traceability.Testing.Building;
using Xunit;

namespace Traceability.Domain.Tests.Routings;

public sealed class EffectivityOverlapTests
{
    // A small world of units; the ends of ranges lie inside it, so that nothing outside it could decide otherwise.
    private static readonly (SerialNumber Serial, VariantCode? Variant, ImmutableArray<Code> Options, DateTimeOffset At)[] World =
    [
        .. from serial in Enumerable.Range(8, 6)
           from variant in new VariantCode?[] { null, VariantCode.Parse("L"), VariantCode.Parse("M") }
           from options in new ImmutableArray<Code>[] { [], [Some.Code("X")], [Some.Code("Y")], [Some.Code("X"), Some.Code("Y")] }
           from at in Enumerable.Range(0, 5)
           select (SerialNumber.Parse(serial.ToString(System.Globalization.CultureInfo.InvariantCulture)), variant, options, Some.At(at)),
    ];

    private static readonly Gen<Effectivity> Any =
        from variants in Gen.OneOf(Gen.Const(""), Gen.Const(""), Gen.Const("L"), Gen.Const("M"), Gen.Const("LM"))
        from options in Gen.OneOf(Gen.Const(""), Gen.Const(""), Gen.Const("X"), Gen.Const("XY"))
        from serials in Gen.Select(Gen.Int[8, 12], Gen.Int[8, 12])
        from times in Gen.Select(Gen.Int[0, 4], Gen.Int[0, 4])
        select new Effectivity(
            [.. variants.Select(v => VariantCode.Parse(v.ToString()))],
            [.. options.Select(o => Some.Code(o.ToString()))],
            serials.Item1 == 8 ? null : Serial(serials.Item1),
            serials.Item2 == 8 ? null : Serial(serials.Item2),
            times.Item1 == 0 ? null : Some.At(times.Item1),
            times.Item2 == 0 ? null : Some.At(times.Item2));

    [Fact]
    public void Two_effectivities_meet_exactly_in_the_units_that_both_mean() => Gen.Select(Any, Any).Sample(
        (a, b) =>
        {
            var both = EffectivityOverlaps.Intersect(a, b);
            Assert.All(World, u => Assert.Equal(Applies(a, u) && Applies(b, u), both is not null && Applies(both, u)));
            Assert.Equal(both is not null, World.Any(u => Applies(a, u) && Applies(b, u)));
        },
        iter: 3_000);

    [Fact]
    public void One_covers_another_exactly_when_it_means_every_unit_of_it() => Gen.Select(Any, Any).Sample(
        (outer, inner) => Assert.Equal(World.All(u => !Applies(inner, u) || Applies(outer, u)), EffectivityOverlaps.Covers(outer, inner)),
        iter: 3_000);

    [Fact]
    public void Released_revisions_that_meet_are_told_with_the_one_that_is_effective()
    {
        var story = new UnitStory(Some.Unit("LAMP", "1")).Routing(
            new RoutingBuilder("LAMP", "A").Step("WIRE"),
            new RoutingBuilder("LAMP", "B").For(Effectivity.Always with { SerialFrom = Serial(20) }).Step("WIRE"),
            new RoutingBuilder("LAMP", "C").For(Effectivity.Always with { SerialTo = Serial(19) }).Step("WIRE"),
            new RoutingBuilder("LAMP", "D").For(Effectivity.Always with { SerialFrom = Serial(10) }).Step("WIRE"));
        var routing = story.References.FindRouting(Some.Item("LAMP"))!;

        Assert.Equal(
            ["A B from 20 part", "A C to 19 part", "A D from 10 part", "B D from 20 whole", "C D from 10 to 19 part"],
            EffectivityOverlaps.Of(routing).Select(o =>
                $"{o.Earlier} {o.Later}{(o.Where.SerialFrom is { } f ? $" from {f}" : "")}{(o.Where.SerialTo is { } t ? $" to {t}" : "")} {(o.IsWhole ? "whole" : "part")}"));
        Assert.Equal("D", routing.EffectiveFor(Serial(15), null, [], Some.Noon)!.Revision.ToString());
    }

    private static bool Applies(Effectivity effectivity, (SerialNumber Serial, VariantCode? Variant, ImmutableArray<Code> Options, DateTimeOffset At) unit) =>
        effectivity.AppliesTo(unit.Serial, unit.Variant, unit.Options, unit.At);

    private static SerialNumber Serial(int number) => SerialNumber.Parse(number.ToString(System.Globalization.CultureInfo.InvariantCulture));
}
